"""What one drill came to: the aggregates that a session keeps."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from statistics import median
from typing import Any

import numpy as np

from station.values import Side, StepRecord

LOCKED_SHARE_OF_PERIOD = 0.1
"""A step is locked to the beat within this share of the period around the runner's own mean offset
(35 ms at 170 spm)."""
LEAST_RAYLEIGH_Z = 3.0
"""n r^2 below this: the steps are spread over the whole beat (Rayleigh, p about 0.05), and a mean
offset has no meaning."""
LEAST_BEAT_STEPS = 5


@dataclass(frozen=True, slots=True)
class LegSummary:
    """One leg in one drill."""

    landings: int
    within: int
    ahead: int
    unjudged: int
    share_ahead: float | None
    """Of the judged landings, 0 to 1; None: none was judged."""
    median_shank_deg: float | None


@dataclass(frozen=True, slots=True)
class BeatSummary:
    """How the steps kept to the beat. Runners step a little before it, so the own mean counts."""

    steps: int
    concentration: float
    """Length of the mean vector of the offsets on the circle of one period, 0 to 1."""
    mean_offset_s: float | None
    """Circular mean; negative is early. None: spread over the whole beat."""
    share_locked: float
    """Of the steps, within a tenth of the period around the own mean; 0 without a mean."""


@dataclass(frozen=True, slots=True)
class DrillSummary:
    """One drill as it was run."""

    name: str
    landings: int
    left: LegSummary
    right: LegSummary
    share_within: float | None
    """Of the judged landings of both legs; None: none was judged."""
    share_ahead: float | None
    share_unjudged: float | None
    """Of all landings; None: there was none."""
    step_rate_spm: float | None
    """Median of the single steps."""
    beat: BeatSummary | None
    """None: no beat, or too few steps with one."""
    cues: int

    def as_dict(self) -> dict[str, Any]:
        """Return it as plain values, for JSON."""
        return asdict(self)


def summarise_drill(
    name: str, records: Iterable[StepRecord], beat_period_s: float | None = None
) -> DrillSummary:
    """Sum one drill up.

    Args:
        name: The drill's name.
        records: Its steps; none: every count is 0, every share and median None.
        beat_period_s: Seconds of one step at the beat's rate; None: there was no beat.
    """
    rows = list(records)
    rates = [r for row in rows if (r := row.step.step_rate_spm) is not None]
    judged = [row.landing for row in rows if row.landing is not None]
    ahead = judged.count("ahead")
    return DrillSummary(
        name=name,
        landings=len(rows),
        left=_leg(rows, "left"),
        right=_leg(rows, "right"),
        share_within=(len(judged) - ahead) / len(judged) if judged else None,
        share_ahead=ahead / len(judged) if judged else None,
        share_unjudged=(len(rows) - len(judged)) / len(rows) if rows else None,
        step_rate_spm=median(rates) if rates else None,
        beat=beat_summary([_offset_s(row, beat_period_s) for row in rows], beat_period_s),
        cues=sum(row.cued for row in rows),
    )


def _offset_s(row: StepRecord, beat_period_s: float | None) -> float | None:
    """Return a step's offset; one at another rate (in a ramp) as the same share of a step."""
    if row.beat_offset_s is None or not row.beat_period_s or beat_period_s is None:
        return row.beat_offset_s
    return row.beat_offset_s * beat_period_s / row.beat_period_s


def _leg(rows: Sequence[StepRecord], side: Side) -> LegSummary:
    mine = [row for row in rows if row.step.side == side]
    ahead = sum(row.landing == "ahead" for row in mine)
    within = sum(row.landing == "within" for row in mine)
    shanks = [deg for row in mine if (deg := row.step.shank_deg) is not None and math.isfinite(deg)]
    return LegSummary(
        landings=len(mine),
        within=within,
        ahead=ahead,
        unjudged=len(mine) - ahead - within,
        share_ahead=ahead / (ahead + within) if ahead + within else None,
        median_shank_deg=median(shanks) if shanks else None,
    )


def beat_summary(
    offsets_s: Iterable[float | None], beat_period_s: float | None
) -> BeatSummary | None:
    """Say how steps kept to a beat, on the circle of one period (mean direction, mean length).

    Args:
        offsets_s: Contact minus nearest beat, seconds; None: no beat was near.
        beat_period_s: Seconds of one step at the beat's rate, over 0; None: there was no beat.

    Returns:
        None without a beat or with fewer than `LEAST_BEAT_STEPS` offsets.
    """
    if beat_period_s is None or beat_period_s <= 0.0:
        return None
    known = np.array([o for o in offsets_s if o is not None and math.isfinite(o)], np.float64)
    if known.size < LEAST_BEAT_STEPS:
        return None
    vectors = np.exp(2j * np.pi * known / beat_period_s)
    mean = complex(vectors.mean())
    concentration = min(1.0, abs(mean))
    if known.size * concentration**2 < LEAST_RAYLEIGH_Z:
        return BeatSummary(int(known.size), concentration, None, 0.0)
    apart = np.abs(np.angle(vectors / mean)) / (2.0 * np.pi)
    locked = float(np.mean(apart <= LOCKED_SHARE_OF_PERIOD + 1e-12))
    offset_s = float(np.angle(mean)) / (2.0 * np.pi) * beat_period_s
    return BeatSummary(int(known.size), concentration, offset_s, locked)
