"""What a session came to: every figure that its report shows, once, as values."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from statistics import median

from station.coach.cue_effect import CueEffect, cue_effect
from station.coach.practice import (
    SIDES,
    BeltPractice,
    kept_its_belt,
    middle_of,
    practice_by_belt,
)
from station.coach.verdict import LandingLimit
from station.keep.report.facts import DrillFacts, SessionFacts
from station.values import Side, StepRecord

HELD_WITHIN = 0.03
"""Share of the target that the median step rate may be off: the mastery gate's own."""


@dataclass(frozen=True, slots=True)
class LegFigures:
    """One leg in one drill."""

    side: Side
    near: bool
    """It was nearer the camera in every step."""
    steps: int
    within: int
    ahead: int
    known: int
    """Landings whose shank angle is known."""
    median_deg: float | None
    """None: known in fewer than seven landings."""
    spread_deg: float | None
    confidence: float | None
    """Median, 0 to 1; None: no step."""
    limit: LandingLimit | None

    @property
    def judged(self) -> int:
        """Landings with a verdict."""
        return self.within + self.ahead

    @property
    def share_within(self) -> float | None:
        """Of the judged landings, by the verdicts; None: none was judged."""
        return self.within / self.judged if self.judged else None


@dataclass(frozen=True, slots=True)
class RateFigures:
    """The step rate of a drill."""

    median_spm: float
    spread_spm: float
    count: int


@dataclass(frozen=True, slots=True, eq=False)
class DrillFigures:
    """One drill."""

    facts: DrillFacts
    left: LegFigures
    right: LegFigures
    rate: RateFigures | None
    """None: known in fewer than seven steps."""
    held: bool | None
    """Whether the median rate was within 3 % of the target; None: no target, or no rate."""
    cues: int
    withheld: int
    belt_kept: bool

    @property
    def legs(self) -> tuple[LegFigures, LegFigures]:
        """Left, right."""
        return self.left, self.right

    def leg(self, side: Side) -> LegFigures:
        """Return one leg."""
        return self.left if side == "left" else self.right

    @property
    def steps(self) -> int:
        """Of both legs."""
        return self.left.steps + self.right.steps

    @property
    def judged(self) -> int:
        """Landings with a verdict, of both legs."""
        return self.left.judged + self.right.judged


@dataclass(frozen=True, slots=True, eq=False)
class SessionFindings:
    """A session."""

    facts: SessionFacts
    drills: tuple[DrillFigures, ...]
    practice: tuple[BeltPractice, ...]
    effect: CueEffect | None
    """None: no cue was withheld."""

    @property
    def running(self) -> tuple[DrillFigures, ...]:
        """The drills that are no rests."""
        return tuple(drill for drill in self.drills if drill.facts.kind != "rest")

    @property
    def far_sides(self) -> tuple[Side, ...]:
        """Legs that were the far one in some step."""
        found = {
            record.step.side
            for drill in self.facts.drills
            for record in drill.records
            if not record.step.near
        } | {record.step.side for record in self.facts.loose if not record.step.near}
        return tuple(side for side in SIDES if side in found)

    @property
    def missing_sides(self) -> tuple[Side, ...]:
        """Legs of which there is not one step."""
        found = {record.step.side for drill in self.facts.drills for record in drill.records}
        found |= {record.step.side for record in self.facts.loose}
        return tuple(side for side in SIDES if side not in found)


def session_findings(facts: SessionFacts) -> SessionFindings:
    """Sum a session up."""
    withheld = [
        drill.records
        for drill in facts.drills
        if (drill.withhold_share or 0.0) > 0.0 or any(row.withheld for row in drill.records)
    ]
    return SessionFindings(
        facts=facts,
        drills=tuple(drill_figures(drill) for drill in facts.drills),
        practice=practice_by_belt(drill.practice() for drill in facts.drills),
        effect=cue_effect(withheld),
    )


def drill_figures(drill: DrillFacts) -> DrillFigures:
    """Sum one drill up."""
    left, right = (_leg(drill, side) for side in SIDES)
    rate = _rate(drill.records)
    held = None
    if rate is not None and drill.target_spm and drill.kind == "run":
        held = abs(rate.median_spm - drill.target_spm) <= HELD_WITHIN * drill.target_spm
    return DrillFigures(
        facts=drill,
        left=left,
        right=right,
        rate=rate,
        held=held,
        cues=sum(row.cued for row in drill.records),
        withheld=sum(row.withheld for row in drill.records),
        belt_kept=kept_its_belt(drill.records),
    )


def _leg(drill: DrillFacts, side: Side) -> LegFigures:
    mine = [row for row in drill.records if row.step.side == side]
    middle, spread, known = middle_of(row.step.shank_deg for row in mine)
    return LegFigures(
        side=side,
        near=bool(mine) and all(row.step.near for row in mine),
        steps=len(mine),
        within=sum(row.landing == "within" for row in mine),
        ahead=sum(row.landing == "ahead" for row in mine),
        known=known,
        median_deg=middle,
        spread_deg=spread,
        confidence=median(row.step.confidence for row in mine) if mine else None,
        limit=None if drill.limits is None else drill.limits.of(side),
    )


def _rate(records: Iterable[StepRecord]) -> RateFigures | None:
    middle, spread, count = middle_of(row.step.step_rate_spm for row in records)
    if middle is None or spread is None:
        return None
    return RateFigures(middle, spread, count)
