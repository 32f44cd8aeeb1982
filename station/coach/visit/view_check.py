"""Whether a runner stands still, whole in the picture and side-on, before the belt is started."""

from __future__ import annotations

from collections import deque

import numpy as np

from station.values import LANDMARK_INDEX, LEG_INDEX, Facing, Pose

STILL_S = 2.0
STILL_SHARE = 0.06
"""Most that the hips may move within `STILL_S`, as a share of the legs' length: about 5 cm."""
SIDE_ON_SHARE = 0.45
"""Most that the shoulders may lie apart along the image, as a share of the trunk: face-on they lie
about 0.75 apart, side-on nearly together (this project's own choice)."""
LEAST_VISIBILITY = 0.5
GAP_S = 0.4
"""Whoever is not seen for so long may have moved meanwhile."""
RARE = 3
"""So many such gaps in a row are told: standing still does not help then."""
EDGE_SHARE = 0.01
HAND_ROOM = 0.45
"""Room above the middle of the face, in lengths of the trunk, that a hand above the head needs,
with the elbow bent; measured on a drawn runner, see the decisions."""
_HIPS = [LANDMARK_INDEX["left_hip"], LANDMARK_INDEX["right_hip"]]
_SHOULDERS = [LANDMARK_INDEX["left_shoulder"], LANDMARK_INDEX["right_shoulder"]]
_NEEDED = [*LEG_INDEX["left"], *LEG_INDEX["right"], *_SHOULDERS, LANDMARK_INDEX["nose"]]
_FACE = [LANDMARK_INDEX[n] for n in ("nose", "left_eye", "right_eye", "left_ear", "right_ear")]
_HEELS = [LANDMARK_INDEX["left_heel"], LANDMARK_INDEX["right_heel"]]
_TOES = [LANDMARK_INDEX["left_foot_index"], LANDMARK_INDEX["right_foot_index"]]
_FEET = [*LEG_INDEX["left"][2:], *LEG_INDEX["right"][2:]]


class ViewCheck:
    """Watches one runner stand. Used by one thread."""

    def __init__(self, faces: Facing | None = None) -> None:
        """Begin with nobody seen.

        Args:
            faces: The way the runner is to face, in the image; None: either way will do.
        """
        self._faces = faces
        self._hips: deque[tuple[float, float, float]] = deque()
        self._gaps = 0
        self.why: str | None = "nobody"
        """Key of the words: what is amiss now; None: only time is wanting."""
        self.note: str | None = None
        """Key of the words: what the runner should know and what hinders nothing; None: nothing."""

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
        self.note = None if self.why is not None or _room_for_hand(pose) else "no_room_for_hand"
        if self.why is not None:
            self._hips.clear()
            return False
        x, y = (float(v) for v in pose.xy_px[_HIPS].mean(axis=0))
        if self._hips and pose.t_s - self._hips[-1][0] > GAP_S:
            self._hips.clear()
            self._gaps += 1
        elif self._hips:
            self._gaps = 0
        self._hips.append((pose.t_s, x, y))
        leg_px = float(np.nanmean(pose.xy_px[_FEET, 1])) - y
        while self._hips[-1][0] - self._hips[0][0] > STILL_S + GAP_S:
            self._hips.popleft()
        places = np.array([(px, py) for _, px, py in self._hips])
        if np.ptp(places, axis=0).max() > STILL_SHARE * leg_px:
            self._hips.clear()
            self._hips.append((pose.t_s, x, y))
            self.why = "stand_still"
        if self._gaps >= RARE:
            self.why = "pictures_rare"
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
        if self._faces is not None:
            ahead_px = float((pose.xy_px[_TOES, 0] - pose.xy_px[_HEELS, 0]).mean())
            if (ahead_px > 0.0) != (self._faces == "right"):
                return "turn_round"
        return None


def _room_for_hand(pose: Pose) -> bool:
    """Whether a hand held above the head stays in the picture; where the face is not known, yes."""
    known = pose.xy_px[_FACE, 1]
    known = known[np.isfinite(known)]
    if not known.size:
        return True
    trunk_px = float(np.hypot(*(pose.xy_px[_SHOULDERS].mean(0) - pose.xy_px[_HIPS].mean(0))))
    return float(known.mean()) >= HAND_ROOM * trunk_px
