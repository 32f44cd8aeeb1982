import math

import numpy as np
import pytest

from station.measure.whereabouts import whereabouts
from station.values import LANDMARK_INDEX, Pose, View

VIEW = View(px_per_m=300.0, origin_px=(640.0, 600.0), faces="right")


def pose(**bay_m: tuple[float, float]) -> Pose:
    xy = np.full((33, 2), np.nan)
    for name, point in bay_m.items():
        xy[LANDMARK_INDEX[name]] = VIEW.to_image(np.array(point))
    return Pose(1.0, 30, xy, np.full(33, 0.9), 1280, 720)


def test_the_rear_foot_is_the_one_on_the_belt() -> None:
    where = whereabouts(
        pose(
            left_hip=(0.1, 0.9), right_hip=(0.12, 0.9), left_heel=(-0.5, 0.08),
            left_foot_index=(-0.3, 0.0), right_heel=(-0.7, 0.6), right_foot_index=(-0.6, 0.5),
        ),
        VIEW,
    )  # fmt: skip
    assert where.hips_x_m == pytest.approx(0.11)
    assert where.rear_foot_x_m == pytest.approx(-0.5)  # the other is behind, but in the air


def test_nothing_known_is_nothing_said() -> None:
    where = whereabouts(pose(), VIEW)
    assert math.isnan(where.hips_x_m)
    assert math.isnan(where.rear_foot_x_m)
