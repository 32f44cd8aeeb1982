"""Sees a hand held above the head: the runner's way to ask for a break without a touch."""

from __future__ import annotations

import numpy as np

from station.values import LANDMARK_INDEX, Pose

_HEAD = [LANDMARK_INDEX[n] for n in ("nose", "left_eye", "right_eye", "left_ear", "right_ear")]
_SHOULDERS = [LANDMARK_INDEX[n] for n in ("left_shoulder", "right_shoulder")]
_HIPS = [LANDMARK_INDEX[n] for n in ("left_hip", "right_hip")]
_WRISTS = [LANDMARK_INDEX[n] for n in ("left_wrist", "right_wrist")]
HELD_S = 1.0
GAP_S = 0.2
"""A lost frame or two does not begin the count anew."""
ABOVE_TRUNKS = 0.25
"""How far a wrist must be above the middle of the face, in lengths from hips to shoulders: above
the crown, where no running arm goes."""
LEAST_VISIBILITY = 0.3


class RaisedHand:
    """Watches one runner's hands. Used by one thread."""

    def __init__(self, held_s: float = HELD_S) -> None:
        """Begin with hands down."""
        self._held_s = held_s
        self._since_s: float | None = None
        self._last_s = -float("inf")
        self._told = False

    def take(self, pose: Pose) -> bool:
        """Take one frame's pose.

        Args:
            pose: In order of time; image up is taken as up (a camera is rolled by few degrees).

        Returns:
            True once, when a hand has been up for the time; again only after it came down.
        """
        if self._up(pose):
            if self._since_s is None or pose.t_s - self._last_s > GAP_S:
                self._since_s, self._told = pose.t_s, False
            self._last_s = pose.t_s
            if not self._told and pose.t_s - self._since_s >= self._held_s - 1e-9:
                self._told = True
                return True
        elif pose.t_s - self._last_s > GAP_S:
            self._since_s = None
        return False

    def _up(self, pose: Pose) -> bool:
        y = pose.xy_px[:, 1]
        head, shoulders, hips = (_mean(y[i]) for i in (_HEAD, _SHOULDERS, _HIPS))
        trunk_px = hips - shoulders
        if not trunk_px > 0.0 or not np.isfinite(head):
            return False
        line_px = head - ABOVE_TRUNKS * trunk_px
        for wrist in _WRISTS:
            seen = pose.visibility[wrist]
            sure = not np.isfinite(seen) or seen >= LEAST_VISIBILITY
            if sure and np.isfinite(y[wrist]) and y[wrist] < line_px:
                return True
        return False


def _mean(values: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> float:
    known = values[np.isfinite(values)]
    return float(known.mean()) if known.size else float("nan")
