"""What is done at the bay's screen: a page's keys and touches become what the visit goes by."""

from __future__ import annotations

from dataclasses import dataclass

from station.coach.choice import choice_of_key
from station.coach.plan import Plan
from station.coach.visit.asking import Asking, GivenCode, GivenStaffCode
from station.coach.visit.course import Visit
from station.coach.visit.inputs import GiveCode, StaffClears, StaffStart, VisitInput
from station.coach.visit.offer import offer_alone
from station.coach.visit.page import Page
from station.live.bay.ports import BayInput, KnownRunner
from station.live.bay.ports import RunnerBook as Book
from station.values import Facing


@dataclass(frozen=True, slots=True)
class BaySettings:
    """What a bay's visits go by."""

    plan: Plan
    staff_code: str
    belt_speed_mps: float | None = None
    """The bay's own cap; None: none."""
    belt_rear_px: tuple[float, float] | None = None
    runner_faces: Facing | None = None
    """In the image; None: either way."""


class Desk:
    """Takes answers, knows who has come, and what may be offered. Main thread only."""

    def __init__(self, settings: BaySettings, book: Book) -> None:
        """Begin with nobody.

        Args:
            settings: The plan, caps and the staff's code.
            book: Knows the runners.
        """
        self.runner: KnownRunner | None = None
        """Who has come; None: nobody, or a code that nobody has."""
        self._settings = settings
        self._book = book
        self._asking = Asking()

    def page(self, visit: Visit, now_s: float) -> Page:
        """Return the page that the visit shows now."""
        return self._asking.page(visit, now_s)

    def taken(self, given: BayInput, visit: Visit, now_s: float) -> VisitInput | None:
        """Return what a key or touch tells the visit; None: nothing yet."""
        choice = given.choice
        if choice is None and given.face is not None:
            choice = choice_of_key(self.page(visit, now_s).choices, given.face)
        answer = None if choice is None else self._asking.choose(visit, choice)
        if isinstance(answer, GivenCode):
            return self._found(answer.code)
        if isinstance(answer, GivenStaffCode):
            if answer.code != self._settings.staff_code:
                self._asking.staff_code_was_wrong()
                return None
            return StaffClears() if visit.state == "staff_call" else StaffStart()
        return answer

    def offer(self, may_rise: bool) -> Plan | None:
        """Return what the runner may do alone; None: nothing, or nobody is there.

        Args:
            may_rise: Whether the dose may be more than last time.
        """
        if self.runner is None:
            return None
        settings = self._settings
        return offer_alone(
            settings.plan, self.runner.caps, settings.belt_speed_mps, self.runner.last, may_rise
        ).plan

    def _found(self, code: str) -> GiveCode:
        self.runner = self._book.find(code)
        if self.runner is None:
            return GiveCode(code, False, False)
        return GiveCode(
            code,
            known=True,
            visited=self.runner.last is not None,
            offered=self.offer(True) is not None,
            offered_sore=self.offer(False) is not None,
        )
