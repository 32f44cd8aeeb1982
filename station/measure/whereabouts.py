"""Where on the belt a runner is: hips, and the rearmost foot that is near the belt."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from station.values import LANDMARK_INDEX, Pose, View

_HIPS = [LANDMARK_INDEX["left_hip"], LANDMARK_INDEX["right_hip"]]
_FEET = [LANDMARK_INDEX[f"{s}_{p}"] for s in ("left", "right") for p in ("heel", "foot_index")]
NEAR_BELT_M = 0.12
"""A foot point lower than this is taken as on the belt, or about to be: a sole's thickness, the
heel's rise while the toe pushes off, and the pose model's error (this project's own choice)."""


@dataclass(frozen=True, slots=True)
class Whereabouts:
    """Where a runner is on the belt, metres, bay frame (x ahead)."""

    t_s: float
    hips_x_m: float
    """Middle of both hips; NaN: not seen."""
    rear_foot_x_m: float
    """The rearmost point of the feet that is near the belt's height; NaN: no foot is."""


def whereabouts(pose: Pose, view: View) -> Whereabouts:
    """Return where a runner is.

    Args:
        pose: One frame's landmarks, image pixels.
        view: How the bay lies in the image.

    Returns:
        The place at the pose's time; NaN in what cannot be told from this frame.
    """
    bay = view.to_bay(pose.xy_px)
    hips = bay[_HIPS, 0]
    feet = bay[_FEET]
    known = np.isfinite(feet).all(axis=1)
    near = known.copy()
    near[known] = view.belt_height_m(feet[known]) <= NEAR_BELT_M
    return Whereabouts(
        pose.t_s,
        float(np.nanmean(hips)) if np.isfinite(hips).any() else math.nan,
        float(feet[near, 0].min()) if near.any() else math.nan,
    )
