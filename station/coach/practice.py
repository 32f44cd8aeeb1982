"""How landings were before feedback, with it and after it, by belt setting and leg.

All three are counted by one limit, the one that was practised with: the verdicts themselves will
not do, since the limit moves when a baseline is taken. Landings are never compared across belt
speeds or inclines, nor from one leg to the other.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from station.coach.baseline import SAME_SPEED_MPS, same_belt
from station.coach.share_change import Share, share_of
from station.coach.verdict import LandingLimit, LandingLimits
from station.measure.summaries import LEAST_STEPS, MAD_TO_SD
from station.values import Belt, Side, StepRecord

Phase = Literal["before", "with", "after"]
PHASES: tuple[Phase, ...] = ("before", "with", "after")
SIDES: tuple[Side, Side] = ("left", "right")
LEAST_RATE_STEPS = 20
"""Steps of which a phase's rate is told: the smallest change of it is computed for so many."""
MOSTLY = 0.9
"""Share of a drill's steps at one belt speed, from which on it is taken to have kept it."""


@dataclass(frozen=True, slots=True, eq=False)
class PracticeRun:
    """One drill as it was run."""

    name: str
    belt: Belt | None
    """None: it stood, or is not known."""
    left_alone: bool
    """A run without beat and without cue, correction or count: what the runner does by itself."""
    coached: bool
    """A run with beat, cue or count."""
    limits: LandingLimits | None
    """As they were at its end; None: not known."""
    records: Sequence[StepRecord]
    """In order of time."""
    target_spm: float | None = None
    """Step rate that was asked for; None: none, or not known."""


@dataclass(frozen=True, slots=True)
class PhaseLeg:
    """One leg in one phase."""

    runs: tuple[str, ...]
    """Names of the drills."""
    near: bool
    """It was nearer the camera in every step."""
    steps: int
    within: Share | None
    """Judged landings at or under the one limit; None: none was judged."""
    known: int
    """Landings whose shank angle is known."""
    median_deg: float | None
    """Of the shank angle at contact; None: known in fewer than seven landings."""
    spread_deg: float | None
    """Robust standard deviation."""


@dataclass(frozen=True, slots=True)
class LegPractice:
    """One leg at one belt setting."""

    side: Side
    limit: LandingLimit | None
    """By which all three are counted; None: not known, and then nothing is."""
    before: PhaseLeg | None
    """The last drill left alone before the first coached one here: what came before was settling.
    None: there is none."""
    coached: PhaseLeg | None
    after: PhaseLeg | None
    """The drills left alone after the last coached one here."""

    def of(self, phase: Phase) -> PhaseLeg | None:
        """Return one phase."""
        return {"before": self.before, "with": self.coached, "after": self.after}[phase]

    @property
    def near(self) -> bool:
        """It was the near leg in every phase that there is."""
        found = [leg.near for leg in (self.before, self.coached, self.after) if leg is not None]
        return bool(found) and all(found)


@dataclass(frozen=True, slots=True)
class RatePractice:
    """The step rate at one belt setting, medians of at least `LEAST_RATE_STEPS` steps."""

    target_spm: float | None
    """Asked for in the last coached drill; None: nothing."""
    before_spm: float | None
    """In the drill before feedback; None: too few steps, as with the others."""
    coached_spm: float | None
    """In the last coached drill: several may have climbed a ladder of rates."""
    after_spm: float | None


@dataclass(frozen=True, slots=True)
class BeltPractice:
    """Both legs at one belt setting."""

    belt: Belt
    left: LegPractice
    right: LegPractice
    rate: RatePractice

    @property
    def legs(self) -> tuple[LegPractice, LegPractice]:
        """Left, right."""
        return self.left, self.right


def kept_its_belt(records: Iterable[StepRecord]) -> bool:
    """Return whether the belt ran at one speed: somebody may have set it anew meanwhile.

    Up to a tenth of the steps may differ, so that a belt still gathering speed is no other one.
    """
    speeds = np.array(
        [
            step.step_length_m / step.step_time_s
            for step in (record.step for record in records)
            if step.step_length_m is not None and step.step_time_s
        ],
        np.float64,
    )
    if not speeds.size:
        return True
    middle = float(np.median(speeds))
    # Lengths are kept to 0.1 mm and times to 0.1 ms: their ratio is that much unsure.
    same = np.abs(speeds - middle) <= SAME_SPEED_MPS + 1e-3 * middle
    return float(same.mean()) >= MOSTLY


def practice_by_belt(runs: Iterable[PracticeRun]) -> tuple[BeltPractice, ...]:
    """Sum up what was run, by belt setting in the order in which they first came.

    Args:
        runs: In order. Those in which the belt was changed, or is not known, count nowhere.
    """
    groups: list[tuple[Belt, list[PracticeRun]]] = []
    for run in runs:
        if (
            run.belt is None
            or not (run.left_alone or run.coached)
            or not kept_its_belt(run.records)
        ):
            continue
        for belt, group in groups:
            if same_belt(belt, run.belt):
                group.append(run)
                break
        else:
            groups.append((run.belt, [run]))
    return tuple(_belt(belt, group) for belt, group in groups)


def _belt(belt: Belt, runs: Sequence[PracticeRun]) -> BeltPractice:
    coached = [i for i, run in enumerate(runs) if run.coached and run.records]
    first, last = (coached[0], coached[-1]) if coached else (len(runs), len(runs))
    alone = [run for run in runs[:first] if run.left_alone and run.records]
    phases = (
        alone[-1:],
        [runs[i] for i in coached],
        [run for run in runs[last + 1 :] if run.left_alone],
    )
    limits = (runs[last] if coached else runs[-1]).limits
    left, right = (_leg(side, phases, limits) for side in SIDES)
    before, with_it, after = phases
    rates_spm = (_rate_of(phase) for phase in (before, with_it[-1:], after))
    target_spm = runs[last].target_spm if coached else None
    return BeltPractice(belt, left, right, RatePractice(target_spm, *rates_spm))


def _leg(
    side: Side, phases: Iterable[Sequence[PracticeRun]], limits: LandingLimits | None
) -> LegPractice:
    limit = None if limits is None else limits.of(side)
    return LegPractice(side, limit, *(_phase(side, phase, limit) for phase in phases))


def _rate_of(runs: Sequence[PracticeRun]) -> float | None:
    rate_spm, _, count = middle_of(row.step.step_rate_spm for run in runs for row in run.records)
    return rate_spm if count >= LEAST_RATE_STEPS else None


def _phase(side: Side, runs: Sequence[PracticeRun], limit: LandingLimit | None) -> PhaseLeg | None:
    mine = [row for run in runs for row in run.records if row.step.side == side]
    if not mine:
        return None
    middle, spread, known = middle_of(row.step.shank_deg for row in mine)
    return PhaseLeg(
        runs=tuple(dict.fromkeys(run.name for run in runs)),
        near=all(row.step.near for row in mine),
        steps=len(mine),
        within=None if limit is None else share_of(under_limit(mine, limit.deg)),
        known=known,
        median_deg=middle,
        spread_deg=spread,
    )


def under_limit(records: Iterable[StepRecord], limit_deg: float) -> list[bool]:
    """Say of each judged landing whether its shank, as judged, was at or under a limit.

    A verdict also allows for the landing's own measurement error, so it says `within` more often.
    """
    return [
        deg <= limit_deg
        for row in records
        if row.landing is not None
        and (deg := row.step.shank_at_verdict_deg) is not None
        and math.isfinite(deg)
    ]


def middle_of(values: Iterable[float | None]) -> tuple[float | None, float | None, int]:
    """Return median, robust standard deviation and count of the values that are known.

    Returns:
        None for both with fewer than `LEAST_STEPS` values.
    """
    known = np.array([v for v in values if v is not None and math.isfinite(v)], np.float64)
    if known.size < LEAST_STEPS:
        return None, None, int(known.size)
    middle = float(np.median(known))
    return middle, MAD_TO_SD * float(np.median(np.abs(known - middle))), int(known.size)
