"""What a run of steps came to, leg by leg, and what may be said of a change or a difference.

A single step's figure is noise; so is the mean of a few. Nothing is summed up from under seven
steps of a leg, no change is told below the smallest that can be detected, and left and right are
compared only where each leg was the near one: the far leg is measured worse from the side.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Literal

import numpy as np

from station.values import Floats, Side, StepRecord

LEAST_STEPS = 7
"""Of a leg: Dingenen 2018, Phys Ther Sport 33:40-47 (a stable mean needs 6.3 +/- 0.3 steps)."""
MEASURES: tuple[str, ...] = (
    "step_time_s", "step_rate_spm", "contact_s", "flight_s", "duty_factor", "step_length_m",
    "shank_deg", "ankle_ahead_m", "ankle_ahead_of_hip_m", "foot_deg", "knee_flexion_deg",
    "knee_flexion_peak_deg", "knee_drive_deg", "trailing_thigh_deg", "trunk_lean_deg",
    "body_lean_deg", "vertical_oscillation_m", "arm_swing_m",
)  # fmt: skip
"""Attributes of a `Step` that are summed up."""
WITH_TRUE_ZERO = frozenset({
    "step_time_s", "step_rate_spm", "contact_s", "duty_factor", "step_length_m",
    "vertical_oscillation_m", "arm_swing_m",
})  # fmt: skip
"""Of these a share of the mean has a meaning; an angle's zero is a convention."""
LEAST_TREND_S = 20.0
"""A slope per minute from a shorter time says nothing."""
_TREND_POINTS = 300
"""Of more steps than this every second, third, ... is taken: every pair is looked at."""
MAD_TO_SD = 1.4826
"""Of a normal spread: standard deviation over median absolute deviation."""


@dataclass(frozen=True, slots=True)
class Trend:
    """How a measure moved with time: the median slope of all pairs of steps (Theil and Sen)."""

    per_min: float
    """In the measure's unit per minute."""
    low_per_min: float
    """Lower end of its 95 % confidence interval."""
    high_per_min: float

    @property
    def clear(self) -> bool:
        """Whether the interval leaves zero out."""
        return self.low_per_min > 0.0 or self.high_per_min < 0.0


@dataclass(frozen=True, slots=True)
class MeasureSummary:
    """One measure over the steps of one leg; in the unit that its name carries."""

    name: str
    count: int
    """Steps of which it is known."""
    median: float
    spread: float
    """Robust standard deviation: 1.4826 times the median absolute deviation."""
    sd: float
    """Standard deviation from step to step, odd ones included."""
    cv: float | None
    """`sd` over the mean; None: the measure has no true zero."""
    trend: Trend | None
    """None: under 20 s of steps."""


@dataclass(frozen=True, slots=True)
class LegFigures:
    """One leg over a run of steps."""

    side: Side
    near: bool
    """It was nearer the camera in every step."""
    steps: int
    judged: int
    """Landings with a verdict."""
    within_share: float | None
    """Of the judged landings, 0 to 1; None: fewer than seven were judged."""
    measures: tuple[MeasureSummary, ...]
    """Of what was known in at least seven steps."""

    def of(self, name: str) -> MeasureSummary | None:
        """Return one measure, None where it was known in too few steps."""
        return next((one for one in self.measures if one.name == name), None)

    def as_dict(self) -> dict[str, Any]:
        """Return it as plain values, for JSON: each measure under its name."""
        told = asdict(self)
        told["measures"] = {one.pop("name"): one for one in told["measures"]}
        return told


def leg_figures(records: Iterable[StepRecord], side: Side) -> LegFigures | None:
    """Sum the steps of one leg up.

    Args:
        records: Steps of both legs, in order of time, made at one belt setting.
        side: The leg.

    Returns:
        None with fewer than `LEAST_STEPS` steps of this leg.
    """
    mine = [record for record in records if record.step.side == side]
    if len(mine) < LEAST_STEPS:
        return None
    verdicts = [record.landing for record in mine if record.landing is not None]
    share = None
    if len(verdicts) >= LEAST_STEPS:
        share = verdicts.count("within") / len(verdicts)
    return LegFigures(
        side=side,
        near=all(record.step.near for record in mine),
        steps=len(mine),
        judged=len(verdicts),
        within_share=share,
        measures=tuple(one for name in MEASURES if (one := _measure(mine, name)) is not None),
    )


def _measure(records: Sequence[StepRecord], name: str) -> MeasureSummary | None:
    pairs = [
        (record.step.t_contact_s, float(value))
        for record in records
        if (value := getattr(record.step, name)) is not None and math.isfinite(value)
    ]
    if len(pairs) < LEAST_STEPS:
        return None
    t_s, values = np.array(pairs).T
    middle = float(np.median(values))
    sd = float(values.std(ddof=1))
    mean = float(values.mean())
    return MeasureSummary(
        name=name,
        count=len(values),
        median=middle,
        spread=MAD_TO_SD * float(np.median(np.abs(values - middle))),
        sd=sd,
        cv=sd / mean if name in WITH_TRUE_ZERO and mean > 0.0 else None,
        trend=trend(t_s, values),
    )


def trend(t_s: Floats, values: Floats) -> Trend | None:
    """Return the robust slope of a measure.

    Args:
        t_s: (n,) rising times, seconds.
        values: (n,) what was measured then, all known.

    Returns:
        None with fewer than `LEAST_STEPS` values or from under `LEAST_TREND_S` of time.
    """
    if len(t_s) < LEAST_STEPS or t_s[-1] - t_s[0] < LEAST_TREND_S:
        return None
    from scipy.stats import theilslopes  # a second to load: not before a drill is over

    each = math.ceil(len(t_s) / _TREND_POINTS)
    slope, _, low, high = theilslopes(values[::each], t_s[::each] / 60.0, alpha=0.95)
    return Trend(float(slope), float(low), float(high))


# --- changes and differences --------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Change:
    """A change of one measure that is large enough to be told."""

    name: str
    before: float
    after: float
    smallest: float
    """The smallest change that can be detected, in the same unit."""

    @property
    def difference(self) -> float:
        """After minus before."""
        return self.after - self.before


def changes(
    before: LegFigures | None, after: LegFigures | None, smallest: Mapping[str, float]
) -> tuple[Change, ...]:
    """Return the changes between two summaries of one leg that can be told from noise.

    Args:
        before: The earlier one; None: there is none.
        after: The later one, at the same belt speed and incline, seen from the same side.
        smallest: For each measure the smallest detectable change, in its unit. Of a measure that
            is not in it nothing is told.

    Returns:
        Those that reach their smallest detectable change, in the order of `MEASURES`; empty where
        a summary is missing or the leg was the near one in only one of them.

    Raises:
        ValueError: The two are not of the same leg.
    """
    if before is None or after is None:
        return ()
    if before.side != after.side:
        raise ValueError(f"{before.side} against {after.side}: changes are of one leg")
    if before.near != after.near:
        return ()
    found = []
    for one in before.measures:
        two, least = after.of(one.name), smallest.get(one.name)
        if two is not None and least is not None and abs(two.median - one.median) >= least:
            found.append(Change(one.name, one.median, two.median, least))
    return tuple(found)


Comparison = Literal["different", "alike", "not comparable"]


@dataclass(frozen=True, slots=True)
class SideDifference:
    """Left against right in one measure."""

    name: str
    verdict: Comparison
    """`alike`: less than can be detected."""
    left_minus_right: float | None
    """None: not comparable."""


def side_difference(
    left: LegFigures | None, right: LegFigures | None, name: str, smallest: Mapping[str, float]
) -> SideDifference:
    """Compare the two legs in one measure.

    Args:
        left: The left leg, from a run in which it was the near one.
        right: The right leg, from another run, with the runner facing the other way: in one run
            only one leg is near.
        name: The measure.
        smallest: For each measure the smallest detectable change, in its unit.

    Returns:
        `not comparable` unless each leg was measured as the near one, its measure is known in
        enough steps, and its smallest detectable change is known.

    Raises:
        ValueError: The legs are given the wrong way round.
    """
    if (left is not None and left.side != "left") or (right is not None and right.side != "right"):
        raise ValueError("the left leg comes first, then the right one")
    one = left.of(name) if left is not None and left.near else None
    two = right.of(name) if right is not None and right.near else None
    least = smallest.get(name)
    if one is None or two is None or least is None:
        return SideDifference(name, "not comparable", None)
    difference = one.median - two.median
    verdict: Comparison = "different" if abs(difference) >= least else "alike"
    return SideDifference(name, verdict, difference)
