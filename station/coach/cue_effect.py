"""What a cue does to the next landing of the same leg, told by cues that were withheld at random.

After a landing that was ahead the next one is nearer the usual by itself, cue or no cue. Only
landings whose cue was drawn to be left out say how much of the change is the cue's.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict, dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from station.values import Side, StepRecord

LEAST_EACH = 20
"""Landings after a cued and after a withheld one, each: fewer tell nothing. With 20 of each and a
scatter of 2 deg the standard error is 0.6 deg."""
MOST_STRIDE_S = 1.5
"""The next contact of a leg comes within a second; one later follows a gap in the measurement."""
SURE = 1.96
"""Standard errors to either side, for an interval of 95 %."""

Arm = list[float]


@dataclass(frozen=True, slots=True)
class Difference:
    """After a cued minus after a withheld landing."""

    after_cued: float
    """Mean."""
    after_withheld: float
    difference: float
    """Within the same drill and leg, the pairs of groups weighed by what they tell."""
    error: float
    """Its standard error."""
    low: float
    """Lower end of its 95 % interval."""
    high: float


@dataclass(frozen=True, slots=True)
class CueEffect:
    """The effect of a session's cues."""

    cued: int
    """Landings ahead that were cued, and followed by one of the same leg with a known angle."""
    withheld: int
    shank_deg: Difference | None
    """Of the next landing's shank angle, degrees; negative: the cue lessens the reach. None: too
    few."""
    share_ahead: Difference | None
    """Of the share of next landings that are ahead, 0 to 1; None: too few."""
    note: str | None
    """Why there is no effect to be told; None: there is."""

    def as_dict(self) -> dict[str, Any]:
        """Return it as plain values, for JSON."""
        return asdict(self)


def cue_effect(drills: Iterable[Sequence[StepRecord]]) -> CueEffect | None:
    """Compare the landings after cued and after withheld ones.

    Args:
        drills: The steps of each drill in which cues were withheld at random, in order of time.
            A landing counts when it was ahead and its cue sounded or was withheld.

    Returns:
        The effect, without differences where fewer than `LEAST_EACH` landings followed either kind;
        None where no cue was withheld.
    """
    shank: list[tuple[Arm, Arm]] = []
    ahead: list[tuple[Arm, Arm]] = []
    any_withheld = False
    sides: tuple[Side, Side] = ("left", "right")
    for records in drills:
        any_withheld = any_withheld or any(row.withheld for row in records)
        for side in sides:
            leg = [row for row in records if row.step.side == side]
            shank.append(_arms(leg, lambda row: row.step.shank_deg))
            ahead.append(_arms(leg, _ahead))
    if not any_withheld:
        return None
    cued = sum(len(one) for one, _ in shank)
    withheld = sum(len(two) for _, two in shank)
    angle, share = _difference(shank), _difference(ahead)
    note = None
    if angle is None:
        note = f"too few to tell: {cued} after a cue, {withheld} after none; {LEAST_EACH} of each"
    return CueEffect(cued, withheld, angle, share, note)


def _ahead(row: StepRecord) -> float | None:
    return None if row.landing is None else float(row.landing == "ahead")


def _arms(
    leg: Sequence[StepRecord], value: Callable[[StepRecord], float | None]
) -> tuple[Arm, Arm]:
    """Return the values of a leg's landings after cued and after withheld ones."""
    cued: Arm = []
    withheld: Arm = []
    for one, following in pairwise(leg):
        if one.landing != "ahead" or not (one.cued or one.withheld):
            continue
        if following.step.t_contact_s - one.step.t_contact_s > MOST_STRIDE_S:
            continue
        found = value(following)
        if found is not None and math.isfinite(found):
            (cued if one.cued else withheld).append(found)
    return cued, withheld


def _difference(groups: Sequence[tuple[Arm, Arm]]) -> Difference | None:
    """Compare two arms over groups, each within its own: drills and legs differ by themselves.

    The estimate is that of a regression with one mean for each group; each arm has a scatter of its
    own, pooled over the groups.
    """
    both = [(np.array(a), np.array(b)) for a, b in groups if a and b]
    counts = [sum(len(pair[arm]) for pair in both) for arm in (0, 1)]
    if min(counts) < LEAST_EACH:
        return None
    weights = np.array([len(a) * len(b) / (len(a) + len(b)) for a, b in both])
    weights /= weights.sum()
    differences = np.array([a.mean() - b.mean() for a, b in both])
    variance = 0.0
    for arm in (0, 1):
        values = [pair[arm] for pair in both]
        free = max(1, counts[arm] - len(values))
        scatter = sum(float(((v - v.mean()) ** 2).sum()) for v in values) / free
        sizes = np.array([len(v) for v in values])
        variance += scatter * float((weights**2 / sizes).sum())
    difference, error = float(weights @ differences), math.sqrt(variance)
    means = [float(np.concatenate([pair[arm] for pair in both]).mean()) for arm in (0, 1)]
    return Difference(
        means[0], means[1], difference, error, difference - SURE * error, difference + SURE * error
    )
