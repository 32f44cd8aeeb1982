"""What a report is made of, as frozen values: read from a session's folder or from the records."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any, Literal

from station.coach.feel_gap import FeelGap
from station.coach.plan import Feedback
from station.coach.practice import PracticeRun
from station.coach.summary import BeatSummary
from station.coach.verdict import LandingLimits
from station.values import Belt, StepRecord

State = Literal["open", "ended", "broken off"]
"""As the store says it; its own type is not imported, for a folder needs no database."""


@dataclass(frozen=True, slots=True)
class Channels:
    """The ways by which a drill gave something back to the runner."""

    beat: bool
    guides: bool
    view: bool
    """The picture itself."""
    cue: Feedback
    cue_share: float
    """Of its landings ahead, the share that its schedule cues, 0 to 1."""


@dataclass(frozen=True, slots=True, eq=False)
class DrillFacts:
    """One drill as it was run."""

    number: int | None
    """In its plan, from 1."""
    name: str
    kind: str
    """run, hop, lean or rest."""
    began_s: float
    ended_s: float | None
    """None: it was broken off."""
    why: str | None
    belt_mps: float | None
    """None: the belt stood, or is not known."""
    incline_percent: float | None
    """None: not recorded, and then its landings are compared with no other drill's."""
    target_spm: float | None
    limits: LandingLimits | None
    """As they were at its end."""
    limit_by_deg: float
    """What the coach added to its limits, in the end."""
    channels: Channels | None
    """None: not recorded."""
    withhold_share: float | None
    beat: BeatSummary | None
    """None: no beat, or too few steps with one."""
    felt: FeelGap | None
    records: tuple[StepRecord, ...]

    @property
    def belt(self) -> Belt | None:
        """Its belt setting; None where speed or incline is not known."""
        if self.belt_mps is None or self.incline_percent is None:
            return None
        return Belt(self.belt_mps, self.incline_percent)

    @property
    def coached(self) -> bool:
        """A run with beat, cue or count."""
        c = self.channels
        return self.kind == "run" and c is not None and (c.beat or c.cue != "off")

    @property
    def left_alone(self) -> bool:
        """A run with neither; picture and guides may be there."""
        c = self.channels
        return self.kind == "run" and c is not None and not c.beat and c.cue == "off"

    @property
    def all_off(self) -> bool:
        """A run with nothing at all given back."""
        c = self.channels
        return self.left_alone and c is not None and not c.guides and not c.view

    @property
    def seconds(self) -> float:
        """How long it lasted; of a drill broken off, up to its last step."""
        if self.ended_s is not None:
            return max(0.0, self.ended_s - self.began_s)
        return max(0.0, self.records[-1].step.t_contact_s - self.began_s) if self.records else 0.0

    def practice(self) -> PracticeRun:
        """Return it as what was practised."""
        return PracticeRun(
            self.name, self.belt, self.left_alone, self.coached, self.limits, self.records,
            self.target_spm,
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class EventFacts:
    """Something that happened."""

    t_s: float
    kind: str
    why: str
    values: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class AnswerFacts:
    """What the runner said of pain or soreness."""

    moment: str
    score: int | None
    place: str | None
    kinds: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class FilmFacts:
    """A film of the screen."""

    path: Path
    first_picture_s: float
    """A time of the tables less this is the film's."""


@dataclass(frozen=True, slots=True, eq=False)
class SessionFacts:
    """One session, or one visit on record."""

    code: str | None
    """The runner's; None: the session was nobody's."""
    began: datetime | None
    bay: str
    plan: str
    source: str
    state: State
    why: str | None
    drills: tuple[DrillFacts, ...]
    loose: tuple[StepRecord, ...]
    """Steps in no drill: pauses, while the belt was being set, or of a visit with no drill on
    record."""
    events: tuple[EventFacts, ...] = ()
    answers: tuple[AnswerFacts, ...] = ()
    notices: tuple[str, ...] = ()
    frames: Mapping[str, float] = field(default_factory=dict)
    steps_lost: int = 0
    film: FilmFacts | None = None
    film_allowed: bool = False
    """The runner's consent is on record, or the runner is an invented one."""
    left_out: int = 0
    """Rows that a broken-off session left incomplete."""

    @property
    def steps(self) -> int:
        """All steps, in drills or not."""
        return len(self.loose) + sum(len(drill.records) for drill in self.drills)

    @property
    def running(self) -> tuple[DrillFacts, ...]:
        """The drills that are no rests."""
        return tuple(drill for drill in self.drills if drill.kind != "rest")

    @property
    def running_s(self) -> float:
        """Time in drills, rests left out."""
        return sum(drill.seconds for drill in self.running)
