"""Whether a runner stands still, whole in the picture and side-on, before the belt is started."""

from __future__ import annotations

from collections import deque

import numpy as np

from station.values import LANDMARK_INDEX, LEG_INDEX, Pose

STILL_S = 2.0
STILL_SHARE = 0.06
"""Most that the hips may move within `STILL_S`, as a share of the legs' length: about 5 cm."""
SIDE_ON_SHARE = 0.45
"""Most that the shoulders may lie apart along the image, as a share of the trunk: face-on they lie
about 0.75 apart, side-on nearly together (this project's own choice)."""
LEAST_VISIBILITY = 0.5
GAP_S = 0.4
EDGE_SHARE = 0.01
_HIPS = [LANDMARK_INDEX["left_hip"], LANDMARK_INDEX["right_hip"]]
_SHOULDERS = [LANDMARK_INDEX["left_shoulder"], LANDMARK_INDEX["right_shoulder"]]
_NEEDED = [*LEG_INDEX["left"], *LEG_INDEX["right"], *_SHOULDERS, LANDMARK_INDEX["nose"]]
_FEET = [*LEG_INDEX["left"][2:], *LEG_INDEX["right"][2:]]


class ViewCheck:
    """Watches one runner stand. Used by one thread."""

    def __init__(self) -> None:
        """Begin with nobody seen."""
        self._hips: deque[tuple[float, float, float]] = deque()
        self.why: str | None = "nobody"
        """Key of the words: what is amiss now; None: only time is wanting."""

    @property
    def share_done(self) -> float:
        """How much of the time has been stood still, 0 to 1."""
        if self.why is not None or not self._hips:
            return 0.0
        return min(1.0, (self._hips[-1][0] - self._hips[0][0]) / STILL_S)

    def take(self, pose: Pose) -> bool:
        """Take one frame's pose.

        Args:
            pose: In order of time, image pixels.

        Returns:
            True when the runner has stood still and well in view for `STILL_S`.
        """
        self.why = self._amiss(pose)
        if self.why is not None:
            self._hips.clear()
            return False
        x, y = (float(v) for v in pose.xy_px[_HIPS].mean(axis=0))
        if self._hips and pose.t_s - self._hips[-1][0] > GAP_S:
            self._hips.clear()
        self._hips.append((pose.t_s, x, y))
        leg_px = float(np.nanmean(pose.xy_px[_FEET, 1])) - y
        while self._hips[-1][0] - self._hips[0][0] > STILL_S + GAP_S:
            self._hips.popleft()
        places = np.array([(px, py) for _, px, py in self._hips])
        if np.ptp(places, axis=0).max() > STILL_SHARE * leg_px:
            self._hips.clear()
            self._hips.append((pose.t_s, x, y))
            self.why = "stand_still"
        return self.share_done >= 1.0

    def _amiss(self, pose: Pose) -> str | None:
        if not pose.found:
            return "nobody"
        needed = pose.xy_px[_NEEDED]
        if not np.isfinite(needed).all():
            return "not_whole"
        edge = EDGE_SHARE * pose.height
        inside = (needed >= edge) & (needed <= np.array([pose.width, pose.height]) - edge)
        if not inside.all():
            return "not_whole"
        seen = pose.visibility[_FEET]
        known = seen[np.isfinite(seen)]
        if known.size and known.mean() < LEAST_VISIBILITY:
            return "legs_hidden"
        trunk_px = float(np.hypot(*(pose.xy_px[_SHOULDERS].mean(0) - pose.xy_px[_HIPS].mean(0))))
        apart_px = abs(float(np.diff(pose.xy_px[_SHOULDERS, 0])[0]))
        if apart_px > SIDE_ON_SHARE * trunk_px:
            return "turn_side_on"
        return None
