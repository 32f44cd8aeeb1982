"""Sees a hand held above the head: the runner's way to ask for a break without a touch."""

from __future__ import annotations

import numpy as np

from station.values import LANDMARK_INDEX, Pose

_HEAD = [LANDMARK_INDEX[n] for n in ("nose", "left_eye", "right_eye", "left_ear", "right_ear")]
_SHOULDERS = [LANDMARK_INDEX[n] for n in ("left_shoulder", "right_shoulder")]
_HIPS = [LANDMARK_INDEX[n] for n in ("left_hip", "right_hip")]
_WRISTS = [LANDMARK_INDEX[n] for n in ("left_wrist", "right_wrist")]
HELD_S = 1.0
MOST_GAP_S = 0.1
"""No longer time counts for one frame, whatever was lost before it."""
EMPTIES = 0.5
ABOVE_TRUNKS = 0.25
"""How far a wrist must be above the middle of the face, in lengths from hips to shoulders: above
the crown, where no running arm goes."""
LEAST_VISIBILITY = 0.3


class RaisedHand:
    """Watches one runner's hands. Used by one thread.

    Time with a hand up fills a measure and time with hands down empties it half as fast: the far
    hand is lost by the pose model in every other frame, behind the head above all, and still counts
    in the end.
    """

    def __init__(self, held_s: float = HELD_S) -> None:
        """Begin with hands down."""
        self._held_s = held_s
        self._filled_s = 0.0
        self._last_s: float | None = None
        self._told = False

    def take(self, pose: Pose) -> bool:
        """Take one frame's pose.

        Args:
            pose: In order of time; image up is taken as up (a camera is rolled by few degrees).

        Returns:
            True once, when a hand has been up for the time; again only after it came down.
        """
        elapsed_s = 0.0 if self._last_s is None else min(pose.t_s - self._last_s, MOST_GAP_S)
        self._last_s = pose.t_s
        if self._up(pose):
            self._filled_s = min(self._filled_s + elapsed_s, self._held_s)
        else:
            self._filled_s = max(0.0, self._filled_s - EMPTIES * elapsed_s)
        if self._filled_s >= self._held_s - 1e-9 and not self._told:
            self._told = True
            return True
        if self._filled_s <= 0.0:
            self._told = False
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
