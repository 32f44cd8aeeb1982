"""What can happen in an unattended visit, as typed messages."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from station.coach.visit.pain import PainAnswer, Soreness

Ready = Literal["clip_on", "shoes_tied", "space_clear", "stop_known"]
READY: tuple[Ready, ...] = ("clip_on", "shoes_tied", "space_clear", "stop_known")
"""What the runner confirms, one by one, before the belt is started."""


@dataclass(frozen=True, slots=True)
class Begin:
    """Somebody touched a key or the screen while the bay waited."""


@dataclass(frozen=True, slots=True)
class GiveCode:
    """The runner's code, as found in the records."""

    code: str
    known: bool
    """Whether a coach has set this runner up, with caps."""
    visited: bool
    """Whether there was a visit before."""
    offered: bool = True
    """Whether anything of the plan is offered to this runner alone."""
    offered_sore: bool = True
    """The same where this visit may ask for no more than the last one."""


@dataclass(frozen=True, slots=True)
class SaySoreness:
    """How calf and Achilles were on the morning after the last visit."""

    soreness: Soreness


@dataclass(frozen=True, slots=True)
class Accept:
    """The notice was read."""


@dataclass(frozen=True, slots=True)
class Confirm:
    """One item of readiness."""

    item: Ready


@dataclass(frozen=True, slots=True)
class SayPain:
    """Pain now, before the run or after it."""

    answer: PainAnswer


@dataclass(frozen=True, slots=True)
class StaffStart:
    """A coach starts a visit that needs one."""


@dataclass(frozen=True, slots=True)
class ViewGood:
    """The runner stood still, wholly in view and side-on, for long enough."""


@dataclass(frozen=True, slots=True)
class SessionOver:
    """The drills are over, and why."""

    why: str


@dataclass(frozen=True, slots=True)
class CallStaff:
    """A person must come: nobody is in view while the belt may run, or the runner asks for help."""

    why: str = "call_nobody_in_view"


@dataclass(frozen=True, slots=True)
class StaffClears:
    """A person has come and ends the staff call."""


@dataclass(frozen=True, slots=True)
class Leave:
    """The runner ends the visit, or goes back to the start."""


VisitInput = (
    Begin | GiveCode | SaySoreness | Accept | Confirm | SayPain | StaffStart | ViewGood
    | SessionOver | CallStaff | StaffClears | Leave
)  # fmt: skip
