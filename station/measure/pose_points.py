"""From a pose to the points that are measured, and back."""

from __future__ import annotations

import numpy as np

from station.measure.readings import UPPER_NAMES
from station.values import LANDMARK_INDEX, LEG_INDEX, Floats, Pose

LEGS = np.array([LEG_INDEX["left"], LEG_INDEX["right"]])
"""(2, 5) landmarks of both legs' chains."""
UPPER = np.array([LANDMARK_INDEX[name] for name in UPPER_NAMES])
_SEEN = 0.35
"""A point less visible than this is taken as not seen."""


def believed(pose: Pose) -> Floats:
    """Return the pose's points (33, 2), image pixels, NaN where not seen or out of the picture."""
    xy = pose.xy_px.copy()
    outside = (
        (xy[:, 0] < 0.0) | (xy[:, 0] > pose.width) | (xy[:, 1] < 0.0) | (xy[:, 1] > pose.height)
    )
    xy[outside | (pose.visibility < _SEEN)] = np.nan  # comparisons with NaN are False
    xy[~np.isfinite(xy).all(axis=1)] = np.nan
    return xy


def with_legs(pose: Pose, legs_px: Floats) -> Pose:
    """Return the pose with its legs named right.

    Args:
        pose: As the model gave it.
        legs_px: (2, 5, 2) left and right, image pixels; where NaN the pose keeps its own point.
    """
    xy = pose.xy_px.copy()
    known = np.isfinite(legs_px).all(axis=-1)
    xy[LEGS[known]] = legs_px[known]
    return Pose(pose.t_s, pose.index, xy, pose.visibility, pose.width, pose.height)
