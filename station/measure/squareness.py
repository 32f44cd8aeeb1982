"""How far off square the camera looks at the belt, by how far apart left and right joints seem."""

from __future__ import annotations

import math
from collections import deque

import numpy as np

from station.values import LANDMARKS, Floats, Pose

_SHOULDERS, _HIPS = 0.75, 0.35
"""Left to right joint, in lengths of the trunk (0.288 H by Winter 2009, Fig. 4.1).
Hips: 0.099 H apart (2 x 0.0849 m at a thigh of 0.4215 m in a public motion-capture humanoid).
Shoulders: a little less than the breadth of 0.259 H over the shoulders (Winter, from memory)."""
GOOD_DEG = 6.0
"""Below it lengths along the belt read at most 0.6 % short (1 - cos 6 deg)."""
MOST_DEG = 15.0
"""From this angle on lengths along the belt read over 3 % short (1 - cos 15 deg)."""
LEAST = 45
"""Poses: some seconds of a slow picture."""
_KEPT = 600
_SHOULDER_POINTS = [LANDMARKS.index("left_shoulder"), LANDMARKS.index("right_shoulder")]
_HIP_POINTS = [LANDMARKS.index("left_hip"), LANDMARKS.index("right_hip")]


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
        self.take(pose.xy_px[_SHOULDER_POINTS], pose.xy_px[_HIP_POINTS])

    def take(self, shoulders: Floats, hips: Floats) -> None:
        """Take one body; one whose joints are not all there is passed by.

        Args:
            shoulders: (2, 2) left, right; pixels of the picture or of the running plane.
            hips: (2, 2) left, right, the same.
        """
        (left_x, left_y), (right_x, right_y) = shoulders.tolist()
        (hip0_x, hip0_y), (hip1_x, hip1_y) = hips.tolist()
        trunk = 0.5 * math.hypot(
            left_x + right_x - hip0_x - hip1_x, left_y + right_y - hip0_y - hip1_y
        )
        if not (math.isfinite(trunk) and trunk > 0.0):
            return
        self._trunk.append(trunk)
        apart = _SHOULDERS * (right_x - left_x) + _HIPS * (hip1_x - hip0_x)
        self._apart.append(apart / (_SHOULDERS**2 + _HIPS**2))

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
