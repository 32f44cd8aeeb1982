"""How far off square the camera looks at the belt, by how far apart left and right joints seem."""

from __future__ import annotations

import math
from collections import deque

import numpy as np

from station.measure.view_checks import OFF_SQUARE_DEG
from station.values import LANDMARKS, Pose

SHOULDERS_M, HIPS_M = 0.75, 0.35
"""Left to right joint in lengths of the trunk, as `station.measure.view_checks` has them."""
GOOD_DEG = 6.0
"""Below it lengths along the belt read at most 0.6 % short (1 - cos 6 deg)."""
MOST_DEG = OFF_SQUARE_DEG
LEAST = 45
"""Poses: some seconds of a slow picture."""
_KEPT = 600
_LEFT_SHOULDER, _RIGHT_SHOULDER, _LEFT_HIP, _RIGHT_HIP = (
    LANDMARKS.index(name) for name in ("left_shoulder", "right_shoulder", "left_hip", "right_hip")
)


class SquareWatch:
    """Averages over seconds: shoulders turn with the arms, and a model's points tremble."""

    def __init__(self, least: int = LEAST) -> None:
        """Begin with nothing seen.

        Args:
            least: So many poses before anything is told.
        """
        self._least = least
        self._apart: deque[float] = deque(maxlen=_KEPT)
        self._trunk: deque[float] = deque(maxlen=_KEPT)

    def see(self, pose: Pose) -> None:
        """Take one pose; one without shoulders and hips is passed by."""
        left_s, right_s = pose.xy_px[_LEFT_SHOULDER], pose.xy_px[_RIGHT_SHOULDER]
        left_h, right_h = pose.xy_px[_LEFT_HIP], pose.xy_px[_RIGHT_HIP]
        trunk = float(np.linalg.norm(left_s + right_s - left_h - right_h)) / 2.0
        apart = SHOULDERS_M * float(right_s[0] - left_s[0]) + HIPS_M * float(right_h[0] - left_h[0])
        if math.isfinite(trunk) and math.isfinite(apart) and trunk > 0.0:
            self._apart.append(apart / (SHOULDERS_M**2 + HIPS_M**2))
            self._trunk.append(trunk)

    @property
    def share(self) -> float:
        """How much of what it takes has been seen, 0 to 1."""
        return min(1.0, len(self._apart) / self._least)

    @property
    def off_deg(self) -> float | None:
        """How far off square, degrees, 0 to 90; None: not enough seen."""
        if len(self._apart) < self._least:
            return None
        sine = abs(float(np.median(self._apart))) / float(np.median(self._trunk))
        return math.degrees(math.asin(min(sine, 1.0)))


def short_percent(off_deg: float) -> float:
    """Return by how much lengths along the belt read short, percent."""
    return 100.0 * (1.0 - math.cos(math.radians(off_deg)))
