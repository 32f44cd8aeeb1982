"""What a coach wants to know of the running drill and the runner needn't read, as a value."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from station.coach.plan import Feedback
from station.coach.verdict import LimitOrigin
from station.values import Side

Waiting = Literal[
    "countdown", "paused", "belt", "felt", "done", "time", "steps", "hops", "mastery", "proving",
    "open",
]  # fmt: skip
"""What the drill goes on for: its length, the mastery gate, its last part without cues, or (open)
until it is ended; or what it stands still for."""


@dataclass(frozen=True, slots=True)
class LegFigures:
    """One leg in this drill."""

    side: Side
    limit_deg: float | None
    """None: no drill runs."""
    limit_origin: LimitOrigin | None
    shank_deg: float | None
    """Median shank angle at contact of the last landings; None: none is known."""
    share_within: float | None
    """Of the judged landings, over the gate's time where there is a gate; None: none was judged."""
    judged: int
    """Landings with a verdict, over the gate's time where there is a gate."""
    unjudged_share: float | None
    """Of all its landings of this drill; None: there was none."""
    confidence: float | None
    """Mean of the last landings, 0 to 1."""


@dataclass(frozen=True, slots=True)
class GateFigures:
    """What mastery asks for, and how far it is."""

    share: float
    landings: int
    seconds: float
    rate_held: bool | None
    """Whether the step rate holds to its target; None: there is no target, or no rate yet."""


@dataclass(frozen=True, slots=True)
class CoachFigures:
    """The coach's strip."""

    number: int
    count: int
    name: str
    waiting: Waiting
    left: float | None
    """Seconds, steps or hops still to go, by `waiting`; None: not known."""
    belt_asked: str | None
    belt_measured: str | None
    target_spm: float | None
    rate_spm: float | None
    legs: tuple[LegFigures, LegFigures]
    """Left, right."""
    gate: GateFigures | None
    schedule: Feedback
    feedback_on: bool
    """False: the coach has turned feedback off in this drill."""
    cues_given: int
    """In the whole session, as is the next."""
    cues_withheld: int
    flags: tuple[str, ...] = ()
    """What is out of the ordinary, as keys of the words' labels."""
