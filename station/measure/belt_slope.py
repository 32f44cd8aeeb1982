"""The belt's slope: the incline that is set, corrected by the way of the feet that lie on the belt.

10 s of flat-foot frames with 10 mm of noise leave 0.4 to 1.5 deg of scatter, more than a console
is usually off; but a console nobody told the station of may be off by degrees. So the set incline
is believed as a mixture: mostly near the truth, at times far from it. Feet that agree with it
roughly are pulled to it; feet that contradict it clearly are believed.
"""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass

import numpy as np

from station.values import Floats

_STANCES = 80
"""Half a minute of running."""
_FEWEST = 12
"""Frames on the belt before the feet are asked at all."""
_SET_WELL_DEG = 0.3
"""Spread of a belt about its set incline where that was told rightly: a level read to 0.2 deg, a
floor 0.2 deg off, and a console that rounds to half a percent. A choice of this project."""
_SET_WRONG = 0.05
"""Share of belts whose incline was not told, or not rightly. A choice of this project."""
_UNTOLD_DEG = 4.0
"""Spread of a belt about an incline that tells nothing (treadmills: up to 15 %, 8.5 deg)."""
_ROLLING_DEG = 0.3
"""A real foot rolls a little even while it lies flat: so far off stays the feet's own slope,
however many frames there are (0.5 deg on one real trial)."""
_STEEPEST = 0.4
"""No treadmill is steeper than this (40 percent)."""
_ODD = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class _Stance:
    group: int
    """Stances of one foot at one incline have their points at the same heights."""
    points: Floats
    """(k, 3, 2) plane pixels, heights over the line that was set."""


class BeltSlope:
    """Keeps the slope, plane y per x. The plane is gravity's: the camera's roll is out of it."""

    def __init__(self) -> None:
        """Begin with a level belt and no incline told."""
        self._set: float | None = None
        self._changes = 0
        self._stances: deque[_Stance] = deque(maxlen=_STANCES)
        self._correction = 0.0

    @property
    def slope(self) -> float:
        """Belt rise, plane y per x."""
        return min(max((self._set or 0.0) + self._correction, -_STEEPEST), _STEEPEST)

    def set_incline(self, percent: float | None) -> None:
        """Take what the belt is set to; a correction learned before is kept.

        Args:
            percent: 100 times rise per run; None: nobody knows.
        """
        before = self._set or 0.0
        self._set = None if percent is None else percent / 100.0
        if (self._set or 0.0) != before:
            self._changes += 1
        self._estimate()

    def add(self, side: int, flat: Floats) -> None:
        """Add one stance.

        Args:
            side: 0 left, 1 right.
            flat: (k, 3, 2) points of the foot while it lies flat, plane pixels, NaN where unknown.
        """
        if not len(flat):
            return
        points = flat.copy()
        points[..., 1] -= (self._set or 0.0) * points[..., 0]
        self._stances.append(_Stance(2 * self._changes + side, points))
        self._estimate()

    def _estimate(self) -> None:
        if not self._stances:
            return
        x = np.concatenate([s.points[..., 0] for s in self._stances])
        y = np.concatenate([s.points[..., 1] for s in self._stances])
        groups = np.repeat([s.group for s in self._stances], [len(s.points) for s in self._stances])
        group = groups[:, None] * x.shape[1] + np.arange(x.shape[1])
        known = np.isfinite(x) & np.isfinite(y)
        fit = _common_slope(x[known], y[known], group[known])
        if fit is not None:
            self._correction = self._believe(*fit)

    def _believe(self, seen: float, error: float) -> float:
        """Return the correction's mean after seeing `seen` +/- `error`, both y per x."""
        off_deg = math.degrees(seen)
        variance = math.degrees(error) ** 2 + _ROLLING_DEG**2
        beliefs = [(1.0, _UNTOLD_DEG)]
        if self._set is not None:
            beliefs = [(1.0 - _SET_WRONG, _SET_WELL_DEG), (_SET_WRONG, _UNTOLD_DEG)]
        weight = total = 0.0
        for share, spread_deg in beliefs:
            both = spread_deg**2 + variance
            likely = share / math.sqrt(both) * math.exp(-0.5 * min(off_deg**2 / both, 600.0))
            weight += likely
            total += likely * off_deg * spread_deg**2 / both
        return math.radians(total / weight)


def _common_slope(x: Floats, y: Floats, group: Floats) -> tuple[float, float] | None:
    """Fit one slope to points that have one height per group; odd points are left out once.

    Returns:
        The slope and its standard error, or None with too few points.
    """
    keep = np.ones(len(x), dtype=bool)
    for last in (False, True):
        if keep.sum() < 3 * _FEWEST:
            return None
        _, index, count = np.unique(group[keep], return_inverse=True, return_counts=True)
        dx = x[keep] - (np.bincount(index, x[keep]) / count)[index]
        dy = y[keep] - (np.bincount(index, y[keep]) / count)[index]
        xx = float(dx @ dx)
        if xx <= 0.0:
            return None
        slope = float(dx @ dy) / xx
        rest = dy - slope * dx
        if not last:
            odd = np.abs(rest) > _ODD * 1.48 * float(np.median(np.abs(rest))) + 1e-9
            keep[np.where(keep)[0][odd]] = False
    spare = len(rest) - len(count) - 1
    return slope, math.sqrt(float(rest @ rest) / max(spare, 1) / xx)
