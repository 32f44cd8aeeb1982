"""What may be said of a share of landings, and of the difference between two shares.

Landings that follow each other are alike, so a hundred of them tell less than a hundred that were
drawn by lot: their count is lessened by how much each goes by the one before.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

LEAST_JUDGED = 20
"""Judged landings of a leg, in each of the two, before their shares are compared."""
SAME_WITHIN = 0.10
"""A difference whose whole interval is no further from nothing is called none (own choice: one
landing of ten)."""
SURE = 1.96
"""Of a normal distribution, for an interval of 95 %."""

ShareVerdict = Literal["rose", "fell", "same", "unsure", "too few"]


@dataclass(frozen=True, slots=True)
class Share:
    """So many of so many landings."""

    count: int
    of: int
    """At least 1."""
    worth: float
    """How many landings drawn by lot would tell as much; at most `of`."""

    @property
    def share(self) -> float:
        """0 to 1."""
        return self.count / self.of

    @property
    def interval(self) -> tuple[float, float]:
        """The 95 % interval by Wilson's score, from `worth` landings."""
        n, p = self.worth, self.share
        middle = (p + SURE**2 / (2.0 * n)) / (1.0 + SURE**2 / n)
        half = SURE * math.sqrt(p * (1.0 - p) / n + SURE**2 / (4.0 * n * n)) / (1.0 + SURE**2 / n)
        return max(0.0, middle - half), min(1.0, middle + half)


@dataclass(frozen=True, slots=True)
class ShareChange:
    """A later share against an earlier one."""

    before: Share
    after: Share
    low: float
    """Lower end of the difference's 95 % interval (Newcombe's, from the two of Wilson)."""
    high: float
    verdict: ShareVerdict

    @property
    def difference(self) -> float:
        """After minus before."""
        return self.after.share - self.before.share


def share_of(hits: Sequence[bool]) -> Share | None:
    """Count hits, in order of time.

    Args:
        hits: Of one leg; those of several drills one behind the other.

    Returns:
        None where there is none.
    """
    if not hits:
        return None
    return Share(sum(hits), len(hits), _worth(np.array(hits, np.float64)))


def _worth(values: np.ndarray[tuple[int], np.dtype[np.float64]]) -> float:
    """Return n (1 - r) / (1 + r), r being how much each value goes by the one before."""
    n = len(values)
    apart = values - values.mean()
    scatter = float(apart @ apart)
    if n < 3 or scatter <= 0.0:
        return float(n)
    follows = max(0.0, float(apart[:-1] @ apart[1:]) / scatter)
    return max(1.0, n * (1.0 - follows) / (1.0 + follows))


def compare_shares(before: Share | None, after: Share | None) -> ShareChange | None:
    """Hold a later share against an earlier one, counted by the same limit.

    Args:
        before: The earlier one; None: there is none.
        after: The later one.

    Returns:
        None where one of them is missing; `too few` where one is of under `LEAST_JUDGED` landings.
    """
    if before is None or after is None:
        return None
    difference = after.share - before.share
    (low_1, high_1), (low_2, high_2) = before.interval, after.interval
    low = difference - math.hypot(after.share - low_2, high_1 - before.share)
    high = difference + math.hypot(high_2 - after.share, before.share - low_1)
    verdict: ShareVerdict = "unsure"
    if min(before.of, after.of) < LEAST_JUDGED:
        verdict = "too few"
    elif low > 0.0:
        verdict = "rose"
    elif high < 0.0:
        verdict = "fell"
    elif max(-low, high) <= SAME_WITHIN:
        verdict = "same"
    return ShareChange(before, after, low, high, verdict)
