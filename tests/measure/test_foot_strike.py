"""Foot strike classes, and that the foot's angle is one against standing flat."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from station.measure import GaitMeter
from station.measure.foot_strike import strike_class
from station.simulate.gait import Runner
from station.simulate.parameters import GaitParameters
from station.simulate.trace import frame_times, poses, side_view
from station.values import LANDMARK_INDEX, Belt, Facing, Floats, Pose, Step, ViewProfile

PX_PER_M = 300.0


# Borders 8.0 and -1.6 deg: Altman & Davis 2012, Gait & Posture 35:298 (numbers from memory). Within
# 2.5 deg, the angle's typical error in two-dimensional video (researchcommons.waikato.ac.nz, 2D
# video overground reliability), nothing is claimed.
@pytest.mark.parametrize(
    ("foot_deg", "named"),
    [
        (25.0, "rearfoot"), (10.6, "rearfoot"), (10.4, "unsure"), (8.0, "unsure"),
        (5.6, "unsure"), (5.4, "midfoot"), (1.0, "midfoot"), (0.8, "unsure"),
        (-1.6, "unsure"), (-4.0, "unsure"), (-4.2, "forefoot"), (-15.0, "forefoot"),
        (None, "unsure"),
    ],
)  # fmt: skip
def test_classes(foot_deg: float | None, named: str) -> None:
    assert strike_class(foot_deg) == named


@pytest.mark.parametrize("border_deg", [-0.8, 7.4])
def test_an_independent_study_s_borders_lie_where_nothing_is_claimed(border_deg: float) -> None:
    """Mo, Huang, Ng & Cheung 2021, Res Sports Med: 43 people on an instrumented treadmill."""
    assert strike_class(border_deg) == "unsure"


def test_the_order_is_from_toe_to_heel() -> None:
    order = {"forefoot": 0, "midfoot": 1, "rearfoot": 2}
    named = [strike_class(deg) for deg in np.arange(-20.0, 30.0, 0.1)]
    ranks = [order[name] for name in named if name != "unsure"]
    assert ranks == sorted(ranks)
    assert set(ranks) == {0, 1, 2}


@cache
def seen(way: GaitParameters, roll_deg: float = 0.0, faces: Facing = "right") -> list[Pose]:
    view = side_view(way, faces, PX_PER_M, roll_deg=roll_deg)
    return list(poses(Runner(way), view, frame_times(60.0, 5.0)))


def with_a_heel_drop(sequence: list[Pose], drop_m: float) -> list[Pose]:
    """Raise the heel's landmark square to the foot, as a shoe with a higher heel does."""
    raised = []
    for pose in sequence:
        xy = pose.xy_px.copy()
        for side in ("left", "right"):
            heel, toe = LANDMARK_INDEX[f"{side}_heel"], LANDMARK_INDEX[f"{side}_foot_index"]
            along = (xy[toe] - xy[heel]) / np.linalg.norm(xy[toe] - xy[heel])
            # The runner faces right, y runs down: a quarter turn back is up.
            xy[heel] += drop_m * PX_PER_M * np.array([along[1], -along[0]])
        raised.append(replace(pose, xy_px=xy))
    return raised


def foot_angles(sequence: list[Pose], profile: ViewProfile, way: GaitParameters) -> Floats:
    meter = GaitMeter(profile, Belt(way.belt_mps))
    steps: list[Step] = []
    for pose in sequence:
        steps += meter.push(pose).steps
    # The first stances teach how the landmarks of a flat foot lie.
    return np.array([s.foot_deg for s in steps[6:] if s.foot_deg is not None])


@cache
def plain_angles(way: GaitParameters) -> Floats:
    return foot_angles(seen(way), FLAT_CAMERA, way)


FLAT_CAMERA = ViewProfile("right", PX_PER_M, ((240.0, 640.8), (1040.0, 640.8)), 1280, 720)


@pytest.mark.parametrize("foot_deg", [-8.0, 16.0])
def test_a_shoe_s_heel_drop_cancels(foot_deg: float) -> None:
    """The angle is relative to standing (IJSPT 123952)."""
    way = GaitParameters(foot_deg=foot_deg, variability=0.0)
    plain = plain_angles(way)
    dropped = foot_angles(with_a_heel_drop(seen(way), 0.03), FLAT_CAMERA, way)
    assert len(plain) == len(dropped) >= 6
    assert dropped == pytest.approx(plain, abs=1.0)
    assert np.median(plain) == pytest.approx(foot_deg, abs=4.0)


@pytest.mark.parametrize("roll_deg", [-3.0, 3.0])
def test_a_camera_roll_that_nobody_set_cancels(roll_deg: float) -> None:
    way = GaitParameters(foot_deg=16.0, variability=0.0)
    ends = side_view(way, "right", PX_PER_M, roll_deg=roll_deg).to_image(
        np.array([[-1.2, 0.0], [1.2, 0.0]])
    )
    line = ((float(ends[0, 0]), float(ends[0, 1])), (float(ends[1, 0]), float(ends[1, 1])))
    level = plain_angles(way)
    rolled = foot_angles(seen(way, roll_deg), ViewProfile("right", PX_PER_M, line, 1280, 720), way)
    assert len(level) == len(rolled) >= 6
    assert rolled == pytest.approx(level, abs=1.0)
