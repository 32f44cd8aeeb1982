"""What the store takes and gives, as frozen values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from station.coach.verdict import Baseline

State = Literal["open", "ended", "broken off"]
Moment = Literal["before", "after", "since"]
"""Of an answer: before the visit's first drill, after its last, or since the last visit."""


@dataclass(frozen=True, slots=True)
class VisitStart:
    """What is known when a visit begins."""

    uid: str
    """Random, 32 hexadecimal digits: names the visit in every place."""
    runner: str
    """The runner's code."""
    bay: str
    plan: str
    source: str
    """`camera`, `clip`, `demo` or `trace`."""
    began: datetime
    """Wall clock, aware, of session second 0."""
    folder: str | None = None
    """Absolute path of the session's folder."""
    versions: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Answer:
    """What a runner answered about pain or soreness."""

    moment: Moment
    score: int | None
    """0 (none) to 10; None: not asked for, or not answered."""
    place: str | None = None
    """Where, in the words of the question."""
    kinds: tuple[str, ...] = ()
    """Such as `sharp`; none: not asked, or none of them."""
    t_s: float | None = None
    """Session seconds; None: outside of the session's time."""


@dataclass(frozen=True, slots=True)
class Runner:
    """What is kept of a runner besides the visits."""

    code: str
    belt_cap_mps: float | None = None
    """Never asked beyond; None: nobody has set one."""
    hops_cap: int | None = None
    video: bool = False
    """Whether the newest consent on record allows films."""
    baselines: tuple[Baseline, ...] = ()
    """The newest of each belt setting, of whatever bay."""
    visits: int = 0
    baselines_by_bay: tuple[tuple[str, Baseline], ...] = ()
    """The newest of each bay and belt setting, newest first, with the bay's name."""

    def baselines_in(self, bay: str) -> tuple[Baseline, ...]:
        """Return the newest of each belt setting in one bay.

        Another bay's camera sees the same landing otherwise, and its belt runs otherwise.
        """
        return tuple(baseline for name, baseline in self.baselines_by_bay if name == bay)


@dataclass(frozen=True, slots=True)
class VisitLine:
    """A visit as a list shows it."""

    uid: str
    runner: str
    bay: str
    plan: str
    source: str
    began: datetime
    state: State
    why: str | None
    steps: int
    within: int
    ahead: int
    running_s: float
    """From the first to the last contact, seconds."""
    steps_lost: int
    folder: str | None

    @property
    def share_within(self) -> float | None:
        """Of the judged landings; None: none was judged."""
        judged = self.within + self.ahead
        return self.within / judged if judged else None


@dataclass(frozen=True, slots=True)
class Erased:
    """What an erasure took away, and what it could not."""

    visits: int = 0
    steps: int = 0
    files: tuple[str, ...] = ()
    """Paths of files and folders that are gone."""
    left: tuple[str, ...] = ()
    """Sentences on what is left, for a person to see to."""


Operation = dict[str, Any]
"""One thing to be put in, as plain values: `do` names what, `visit` is the visit's uid."""
