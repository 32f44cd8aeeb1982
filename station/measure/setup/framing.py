"""Whether the whole runner is in the picture, and where the picture cuts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from station.measure.view_checks import SMALLEST_LEG_PX
from station.values import LANDMARKS, Pose

Edge = Literal["top", "bottom", "left", "right"]
MARGIN = 0.03
"""Room between body and edge, as a share of the picture's height or width: runners wander."""
_SURE = 0.6
"""A model guesses what it does not see; then it is less sure than this (0.4 to 0.6 when cut)."""
_HEAD = 0.35
"""From the ear up to the crown, in lengths from shoulder to ear (about 0.13 H from 0.37... H): a
generous guess, for hair and for the bounce of running."""
_LOW = [
    [LANDMARKS.index(f"{side}_{part}") for part in ("knee", "ankle", "heel", "foot_index")]
    for side in ("left", "right")
]
_SHANKS = [
    (
        LANDMARKS.index(f"{side}_hip"),
        LANDMARKS.index(f"{side}_knee"),
        LANDMARKS.index(f"{side}_ankle"),
    )
    for side in ("left", "right")
]
_EARS = [LANDMARKS.index("left_ear"), LANDMARKS.index("right_ear")]
_SHOULDERS = [LANDMARKS.index("left_shoulder"), LANDMARKS.index("right_shoulder")]


@dataclass(frozen=True, slots=True)
class Framing:
    """How one body lies in the picture."""

    cut: tuple[Edge, ...]
    """Edges that cut the body, or that it all but touches."""
    legs_seen: bool
    """The model is sure of a lower leg; whoever stands hides the other behind it."""
    leg_px: float
    """Thigh and shank."""

    @property
    def whole(self) -> bool:
        """Whether all of the body is there and seen."""
        return not self.cut and self.legs_seen

    @property
    def large_enough(self) -> bool:
        """Whether a pixel is little enough of the shank's angle."""
        return self.leg_px >= SMALLEST_LEG_PX


def framing_of(pose: Pose) -> Framing | None:
    """Return how the body lies in the picture; None: nobody is there."""
    if not pose.found:
        return None
    xy = pose.xy_px
    known = xy[np.isfinite(xy).all(axis=1)]
    ears, shoulders = np.nanmean(xy[_EARS], axis=0), np.nanmean(xy[_SHOULDERS], axis=0)
    top = float(min(known[:, 1].min(), ears[1] - _HEAD * abs(ears[1] - shoulders[1])))
    left, right = float(known[:, 0].min()), float(known[:, 0].max())
    bottom = float(known[:, 1].max())
    w, h = pose.width, pose.height
    cut: list[Edge] = []
    if top < 0.0:  # a head may come near: only its being cut off matters
        cut.append("top")
    if bottom > h * (1.0 - MARGIN):
        cut.append("bottom")
    if left < w * MARGIN:
        cut.append("left")
    if right > w * (1.0 - MARGIN):
        cut.append("right")
    low = pose.visibility[np.array(_LOW)].min(axis=1)
    seen = bool(np.nanmax(low) >= _SURE) if np.isfinite(low).any() else True
    legs = [
        float(np.linalg.norm(xy[hip] - xy[knee]) + np.linalg.norm(xy[knee] - xy[ankle]))
        for hip, knee, ankle in _SHANKS
    ]
    return Framing(tuple(cut), seen, float(np.nanmax(legs)) if np.isfinite(legs).any() else 0.0)
