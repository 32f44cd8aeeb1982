"""Turns the visit's states into pages, and what is touched or typed into the visit's inputs."""

from __future__ import annotations

import string
from dataclasses import dataclass, replace
from typing import get_args

from station.coach.choice import Choice
from station.coach.scene import Tone
from station.coach.visit.course import Visit, VisitState
from station.coach.visit.inputs import (
    READY,
    Accept,
    Begin,
    Confirm,
    Leave,
    SayPain,
    SaySoreness,
    VisitInput,
)
from station.coach.visit.page import Page
from station.coach.visit.pain import COACH_FROM, PainAnswer, PainKind, Soreness

CODE_LONGEST = 16
STAFF_LONGEST = 8
SECONDS_TOLD = 20
"""The page says how long it still waits in its last so many seconds."""
PAIN_PLACES = ("foot", "achilles", "calf", "shin", "knee", "thigh", "hip", "back", "elsewhere")
NOTICE_LINES = (
    "notice_clip",
    "notice_slow",
    "notice_space",
    "notice_calf",
    "notice_hand",
    "notice_pain",
    "notice_stop_device",
    "notice_no_promise",
    "notice_manual",
)
ENTER, ERASE, LEAVE = "Enter", "Back", "Esc"
_KEYS = string.ascii_uppercase + string.digits + "-"
_TONES: dict[VisitState, Tone] = {
    "unknown_code": "correction",
    "needs_coach": "correction",
    "not_today": "warning",
    "nothing_offered": "correction",
    "staff_call": "warning",
}


@dataclass(frozen=True, slots=True)
class GivenCode:
    """A runner's code was typed; whoever knows the records answers it."""

    code: str


@dataclass(frozen=True, slots=True)
class GivenStaffCode:
    """A staff code was typed; whoever knows the bay answers it."""

    code: str


Answer = VisitInput | GivenCode | GivenStaffCode


class Asking:
    """Asks one runner at a time. Used by one thread; has no clock."""

    def __init__(self) -> None:
        """Begin at the visit's first page."""
        self._state: VisitState = "waiting"
        self._entry = ""
        self._score: int | None = None
        self._where: str | None = None
        self._kinds: set[PainKind] = set()
        self._refused = False

    def page(self, visit: Visit, t_s: float) -> Page:
        """Return the page of the visit as it stands; of the session itself, an empty one.

        Args:
            visit: The course.
            t_s: Now, session clock.
        """
        self._follow(visit)
        page = self._page(visit)
        left_s = visit.time_left_s(t_s)
        told = left_s is not None and left_s <= SECONDS_TOLD
        return replace(
            page,
            tone=_TONES.get(visit.state, page.tone),
            seconds_left=int(left_s or 0.0) + 1 if told else None,
        )

    def choose(self, visit: Visit, choice: str) -> Answer | None:
        """Take a choice of the page; return what it says to the visit, None: nothing yet.

        Args:
            visit: The course, as the page showed it.
            choice: The choice's id; one that the page does not offer changes nothing.
        """
        self._follow(visit)
        if choice not in {c.id for c in self._page(visit).choices}:
            return None
        kind, _, value = choice.partition(":")
        if kind == "leave":
            return Leave()
        if kind == "begin":
            return Begin()
        if kind in ("type", "erase", "enter"):
            return self._typed(kind, value)
        if kind == "sore":
            return SaySoreness(_soreness(value))
        if kind == "accept":
            return Accept()
        if kind == "ready":
            return Confirm(next(item for item in READY if item == value))
        return self._pain(kind, value)

    def staff_code_was_wrong(self) -> None:
        """Say on the page that the code was not accepted."""
        self._refused = True

    # --- within ---------------------------------------------------------------------------------

    def _follow(self, visit: Visit) -> None:
        if visit.state != self._state:
            self._state = visit.state
            self._entry = ""
            self._score, self._where, self._refused = None, None, False
            self._kinds = set()

    def _typed(self, kind: str, value: str) -> Answer | None:
        staff = self._state in ("needs_coach", "staff_call")
        if kind == "erase":
            self._entry = self._entry[:-1]
        elif kind == "type":
            self._refused = False
            self._entry = (self._entry + value)[: STAFF_LONGEST if staff else CODE_LONGEST]
        elif self._entry:
            code, self._entry = self._entry, ""
            return GivenStaffCode(code) if staff else GivenCode(code)
        return None

    def _pain(self, kind: str, value: str) -> Answer | None:
        if kind == "pain":
            self._score = int(value)
            if self._score == 0:
                return SayPain(PainAnswer(0))
        elif kind == "where":
            self._where = value
        elif kind == "kind":
            self._kinds ^= {next(k for k in get_args(PainKind) if k == value)}
        elif kind == "kinds_done" and self._score is not None:
            return SayPain(PainAnswer(self._score, self._where or "", frozenset(self._kinds)))
        return None

    def _page(self, visit: Visit) -> Page:
        state = visit.state
        leave = Choice("leave", "leave", LEAVE)
        if state == "waiting":
            return Page("bay_waiting", ("bay_touch",), (Choice("begin", "begin", ENTER),))
        if state == "who":
            return Page("who", ("who_code",), (*_keypad(_KEYS), leave), 10, self._entry)
        if state == "unknown_code":
            again = Choice("begin", "once_more", ENTER)
            return Page("unknown_code", ("unknown_code_why",), (again, leave))
        if state == "since_last":
            sore = tuple(
                Choice(f"sore:{word}", f"sore_{word}", str(number))
                for number, word in enumerate(get_args(Soreness), start=1)
            )
            return Page("since_last", ("since_last_why",), (*sore, leave))
        if state == "notice":
            return Page("notice", NOTICE_LINES, (Choice("accept", "accept", ENTER), leave), 2)
        if state == "readiness":
            items = tuple(
                Choice(f"ready:{item}", item, str(number), item in visit.answers.ready)
                for number, item in enumerate(READY, start=1)
            )
            return Page("readiness", ("readiness_how",), (*items, leave))
        if state in ("pain_before", "pain_after"):
            return self._pain_page(state, leave)
        if state in ("needs_coach", "staff_call"):
            lines = [visit.told or f"{state}_why", "staff_code_wrong" if self._refused else "staff"]
            choices = _keypad(string.digits)
            if state == "needs_coach":
                choices = (*choices, leave)
            return Page(state, tuple(lines), choices, 10, "*" * len(self._entry))
        if state in ("not_today", "nothing_offered"):
            lines = [visit.told or f"{state}_why", "advice_only"]
            return Page(state, tuple(lines), (Choice("leave", "done", ENTER),))
        if state == "view_check":
            return Page("view_check", ("view_check_how",), (leave,))
        if state == "summary":
            told = () if visit.told is None else (visit.told, "advice_only")
            return Page("summary", told, (Choice("leave", "done", ENTER),))
        return Page("session")

    def _pain_page(self, state: VisitState, leave: Choice) -> Page:
        """Ask for the score, then, where there is pain, its place and its kind."""
        if self._score is None:
            scores = tuple(
                Choice(f"pain:{n}", str(n), str(n) if n < 10 else "T", literal=True)
                for n in range(11)
            )
            return Page(state, ("pain_scale",), (*scores, leave), 11)
        if self._where is None:
            places = tuple(
                Choice(f"where:{place}", f"where_{place}", str(number))
                for number, place in enumerate(PAIN_PLACES, start=1)
            )
            return Page("pain_where", (), (*places, leave), 3)
        kinds = tuple(
            Choice(f"kind:{kind}", f"kind_{kind}", str(number), kind in self._kinds)
            for number, kind in enumerate(get_args(PainKind), start=1)
        )
        lines = ("pain_kind_how", *(("pain_needs_coach",) if self._score >= COACH_FROM else ()))
        return Page("pain_kind", lines, (*kinds, Choice("kinds_done", "go_on", ENTER), leave))


def _keypad(letters: str) -> tuple[Choice, ...]:
    keys = tuple(Choice(f"type:{letter}", letter, letter, literal=True) for letter in letters)
    return (*keys, Choice("erase", "erase", ERASE), Choice("enter", "enter", ENTER))


def _soreness(text: str) -> Soreness:
    return next(word for word in get_args(Soreness) if word == text)
