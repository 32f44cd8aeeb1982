"""The course of an unattended visit, from waiting to waiting. Pure; it has no clock of its own.

Every state but the staff call ends by itself: nobody who walks away leaves the bay blocked, and
nothing has to be pressed while running.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from station.coach.visit.inputs import (
    READY,
    Accept,
    Begin,
    CallStaff,
    Confirm,
    GiveCode,
    Leave,
    Ready,
    SayPain,
    SaySoreness,
    SessionOver,
    StaffClears,
    StaffStart,
    ViewGood,
    VisitInput,
)
from station.coach.visit.pain import PainAnswer, Soreness, decide, dose_may_rise

VisitState = Literal[
    "waiting", "who", "unknown_code", "since_last", "notice", "readiness", "pain_before",
    "needs_coach", "not_today", "nothing_offered", "view_check", "session", "pain_after",
    "summary", "staff_call",
]  # fmt: skip

TIME_OUTS_S: dict[VisitState, float] = {
    "who": 60.0,
    "unknown_code": 20.0,
    "since_last": 60.0,
    "notice": 180.0,
    "readiness": 120.0,
    "pain_before": 90.0,
    "needs_coach": 300.0,
    "not_today": 60.0,
    "nothing_offered": 60.0,
    "view_check": 120.0,
    "pain_after": 120.0,
    "summary": 120.0,
}
"""How long a state waits for an answer; then the bay waits for the next runner. The session ends by
its plan, and the staff call by a person only."""


@dataclass(frozen=True, slots=True)
class VisitChange:
    """The visit moved on: kept with its records."""

    t_s: float
    to: VisitState
    why: str


@dataclass(slots=True)
class VisitAnswers:
    """What this runner has said."""

    code: str | None = None
    soreness: Soreness | None = None
    ready: set[Ready] = field(default_factory=set)
    pain_before: PainAnswer | None = None
    pain_after: PainAnswer | None = None
    coach_started: bool = False

    @property
    def may_rise(self) -> bool:
        """Whether this visit may ask for more than the last one."""
        return self.soreness is None or dose_may_rise(self.soreness)


class Visit:
    """Goes from waiting to waiting, again and again. Used by one thread."""

    def __init__(self) -> None:
        """Wait for the first runner."""
        self.state: VisitState = "waiting"
        self.answers = VisitAnswers()
        self.told: str | None = None
        """Key of the words that explains the state; None: the state's own words do."""
        self._since_s = 0.0
        self._offered_sore = True

    def advance(self, t_s: float) -> tuple[VisitChange, ...]:
        """Move to a time.

        Args:
            t_s: Session clock.

        Returns:
            What changed; a state that nobody answered ends here.
        """
        limit_s = TIME_OUTS_S.get(self.state)
        if limit_s is None or t_s - self._since_s < limit_s:
            return ()
        if self.state == "pain_after":  # what was run is still shown to whoever stands there
            return (self._go("summary", self._since_s + limit_s, "no answer"),)
        return (self._go("waiting", self._since_s + limit_s, "no answer"),)

    def time_left_s(self, t_s: float) -> float | None:
        """Return how long the state still waits; None: without end."""
        limit_s = TIME_OUTS_S.get(self.state)
        return None if limit_s is None else max(0.0, limit_s - (t_s - self._since_s))

    def take(self, message: VisitInput, t_s: float) -> tuple[VisitChange, ...]:
        """Take what happened; what makes no sense in this state changes nothing.

        Args:
            message: What happened.
            t_s: When, session clock.

        Returns:
            What changed, in order.
        """
        changes = list(self.advance(t_s))
        if self.state == "staff_call":
            if isinstance(message, StaffClears):
                changes.append(self._go("summary", t_s, "cleared by staff"))
            return tuple(changes)
        if isinstance(message, CallStaff):
            if self.state == "session":
                self.told = message.why
                changes.append(self._go("staff_call", t_s, message.why, keep=True))
            return tuple(changes)
        if isinstance(message, Leave):
            if self.state not in ("waiting", "session"):
                changes.append(self._go("waiting", t_s, "left"))
            return tuple(changes)
        step = self._step(message)
        if step is not None:
            to, why = step
            changes.append(self._go(to, t_s, why))
        return tuple(changes)

    # --- within ---------------------------------------------------------------------------------

    def _step(self, message: VisitInput) -> tuple[VisitState, str] | None:
        """Return where a message leads from this state, and why; None: nowhere."""
        state = self.state
        if state == "waiting" and isinstance(message, Begin):
            return "who", "touched"
        if state == "unknown_code" and isinstance(message, Begin):
            return "who", "once more"
        if state == "who" and isinstance(message, GiveCode):
            return self._who(message)
        if state == "since_last" and isinstance(message, SaySoreness):
            self.answers.soreness = message.soreness
            why = f"calf or Achilles {message.soreness}"
            left = self._offered_sore or self.answers.may_rise
            return ("notice" if left else "nothing_offered"), why
        if state == "notice" and isinstance(message, Accept):
            return "readiness", "read"
        if state == "readiness" and isinstance(message, Confirm):
            self.answers.ready.add(message.item)
            return ("pain_before", "ready") if set(READY) <= self.answers.ready else None
        if state == "pain_before" and isinstance(message, SayPain):
            return self._pain_before(message.answer)
        if state == "needs_coach" and isinstance(message, StaffStart):
            self.answers.coach_started = True
            return "view_check", "started by a coach"
        if state == "view_check" and isinstance(message, ViewGood):
            return "session", "in view"
        if state == "session" and isinstance(message, SessionOver):
            return "pain_after", message.why
        if state == "pain_after" and isinstance(message, SayPain):
            self.answers.pain_after = message.answer
            self._tell_pain(message.answer)
            return "summary", f"pain {message.answer.score}"
        return None

    def _who(self, given: GiveCode) -> tuple[VisitState, str]:
        if not given.known:
            return "unknown_code", "not set up by a coach"
        self.answers.code = given.code
        self._offered_sore = given.offered_sore
        if not given.offered:
            return "nothing_offered", "nothing for this runner alone"
        return ("since_last" if given.visited else "notice"), "known"

    def _pain_before(self, answer: PainAnswer) -> tuple[VisitState, str]:
        self.answers.pain_before = answer
        decision = decide(answer)
        self.told = decision.why
        if decision.word == "stop":
            return "not_today", decision.why
        if decision.word == "coach":
            return "needs_coach", decision.why
        return "view_check", decision.why

    def _tell_pain(self, answer: PainAnswer) -> None:
        decision = decide(answer)
        self.told = None if decision.word == "start" else decision.why

    def _go(self, to: VisitState, t_s: float, why: str, keep: bool = False) -> VisitChange:
        if to == "waiting":
            self.answers = VisitAnswers()
        if to not in ("not_today", "needs_coach", "summary") and not keep:
            self.told = None
        self.state, self._since_s = to, t_s
        return VisitChange(t_s, to, why)
