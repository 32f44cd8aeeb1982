"""What is amiss with the view is told, with its effect; what is right, is not."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

import numpy as np
import pytest

from station.measure import GaitMeter
from station.simulate.gait import Runner
from station.simulate.parameters import GaitParameters
from station.simulate.trace import add_noise, frame_times, lose, poses, side_view, swap_legs
from station.values import LANDMARK_INDEX, Belt, Notice, Pose, View, ViewProfile

RUN = GaitParameters()
VIEW = side_view(RUN, "right", 300.0)
FAR = [LANDMARK_INDEX[f"left_{part}"] for part in ("hip", "knee", "ankle", "heel", "foot_index")]
FAR_ARM = [LANDMARK_INDEX[f"left_{part}"] for part in ("shoulder", "elbow", "wrist")]


def profile_of(view: View) -> ViewProfile:
    ends = view.to_image(view.plumb_on_belt(np.array([[-0.8, 0.0], [0.8, 0.0]])))
    line = ((float(ends[0, 0]), float(ends[0, 1])), (float(ends[1, 0]), float(ends[1, 1])))
    return ViewProfile(view.faces, view.px_per_m, line, 1280, 720, view.roll_deg)


def tracked(way: GaitParameters, fps: float, seconds: float, seed: int = 1) -> list[Pose]:
    exact = poses(Runner(way), side_view(way, "right", 300.0), frame_times(fps, seconds))
    noisy = add_noise(exact, 0.010, 300.0, seed)
    return list(lose(swap_legs(noisy, 0.15, seed).poses, 0.02, seed).poses)


def told(meter: GaitMeter, sequence: Iterable[Pose]) -> dict[str, Notice]:
    """All notices by key, with their last numbers."""
    found: dict[str, Notice] = {}
    for pose in sequence:
        found.update({notice.key: notice for notice in meter.push(pose).notices})
    return found


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_belt_entered_ten_percent_wrong_is_raised_and_three_is_not(seed: int) -> None:
    sequence = tracked(RUN, 30.0, 7.0, seed)
    for factor, key in ((1.1, "belt_slower"), (0.9, "belt_faster"), (1.03, ""), (0.97, "")):
        meter = GaitMeter(profile_of(VIEW), Belt(factor * RUN.belt_mps))
        found = told(meter, sequence)
        assert set(found) == ({key} if key else set())
        if key:
            percent = float(dict(found[key].values)["percent"])
            assert percent == pytest.approx(100.0 * abs(1.0 / factor - 1.0), abs=2.5)


def test_a_wrong_belt_does_not_stop_the_landings() -> None:
    meter = GaitMeter(profile_of(VIEW), Belt(1.1 * RUN.belt_mps))
    seen = [meter.push(pose) for pose in tracked(RUN, 30.0, 9.0)]
    late = [s for s in seen if s.notices]
    assert late
    assert all(s.trouble is None for s in late)
    judged = [m for s in late for m in s.landings if m.shank_deg is not None]
    assert len(judged) >= 5


def test_a_belt_on_its_way_to_a_new_speed_is_not_blamed() -> None:
    meter = GaitMeter(profile_of(VIEW), Belt(RUN.belt_mps))
    found: dict[float, set[str]] = {}
    for pose in tracked(RUN, 30.0, 20.0):
        if pose.t_s >= 3.0 and not found:
            meter.set_belt(Belt(1.2 * RUN.belt_mps))  # but the belt stays as it was
        found[pose.t_s] = {notice.key for notice in meter.push(pose).notices}
        if pose.t_s < 3.0:
            found.clear()
    first = min(t for t, keys in found.items() if keys)
    assert 13.0 < first < 19.0
    assert found[max(found)] == {"belt_slower"}


def test_with_a_learned_scale_no_belt_can_be_blamed() -> None:
    meter = GaitMeter(ViewProfile("right"), Belt(1.2 * RUN.belt_mps))
    assert told(meter, tracked(RUN, 60.0, 5.0)) == {}


def off_square(sequence: Iterable[Pose], yaw_deg: float) -> list[Pose]:
    """See the runner from `yaw_deg` off: lengths along shrink, the far side moves along.

    Joints lie 0.2 (shoulders) and 0.1 (hips and down) of the height apart, as in a rendered body.
    """
    cos, sin = math.cos(math.radians(yaw_deg)), math.sin(math.radians(yaw_deg))
    moved = []
    for pose in sequence:
        xy = pose.xy_px.copy()
        xy[:, 0] = VIEW.origin_px[0] + cos * (xy[:, 0] - VIEW.origin_px[0])
        xy[FAR, 0] += 0.1 * RUN.height_m * VIEW.px_per_m * sin
        xy[FAR_ARM, 0] += 0.2 * RUN.height_m * VIEW.px_per_m * sin
        moved.append(replace(pose, xy_px=xy))
    return moved


@pytest.mark.parametrize(("yaw_deg", "raised"), [(-22.0, True), (22.0, True), (8.0, False)])
def test_a_camera_off_square_is_told_with_its_effect(yaw_deg: float, raised: bool) -> None:
    exact = poses(Runner(RUN), VIEW, frame_times(30.0, 5.0))
    sequence = add_noise(off_square(exact, yaw_deg), 0.010, 300.0, 1)
    found = told(GaitMeter(ViewProfile("right"), Belt(RUN.belt_mps)), sequence)
    assert set(found) == ({"not_side_on"} if raised else set())
    if raised:
        values = dict(found["not_side_on"].values)
        assert float(values["degrees"]) == pytest.approx(22.0, abs=4.0)
        short = 100.0 * (1.0 - math.cos(math.radians(22.0)))
        assert float(values["percent"]) == pytest.approx(short, abs=3.0)


@pytest.mark.parametrize(("fps", "raised"), [(15.0, True), (24.0, False), (45.0, False)])
def test_a_frame_rate_too_low_is_told_with_its_effect(fps: float, raised: bool) -> None:
    times = [i / fps for i in range(int(5.0 * fps))]
    found = told(GaitMeter(profile_of(VIEW), Belt(RUN.belt_mps)), poses(Runner(RUN), VIEW, times))
    assert ("frame_rate_low" in found) == raised
    if raised:
        assert dict(found["frame_rate_low"].values) == {"fps": "15", "off": "33"}


@pytest.mark.parametrize(("px_per_m", "raised"), [(110.0, True), (180.0, False)])
def test_a_runner_too_small_is_told_with_its_effect(px_per_m: float, raised: bool) -> None:
    view = side_view(RUN, "right", px_per_m)  # the leg is 0.86 m
    meter = GaitMeter(profile_of(view), Belt(RUN.belt_mps))
    found = told(meter, poses(Runner(RUN), view, frame_times(60.0, 2.0)))
    assert ("too_small" in found) == raised
    if raised:
        one_pixel = math.degrees(math.sqrt(2.0) / (0.5 * 0.491 * RUN.height_m * px_per_m))
        degrees = float(dict(found["too_small"].values)["degrees"])
        assert degrees == pytest.approx(one_pixel, rel=0.1)


@pytest.mark.parametrize("faces", ["right", "left"])
def test_a_runner_who_faces_the_other_way_is_told(faces: str) -> None:
    view = side_view(RUN, "left" if faces == "left" else "right", 300.0)
    meter = GaitMeter(ViewProfile("right", 300.0), Belt(RUN.belt_mps))
    sequence = add_noise(poses(Runner(RUN), view, frame_times(60.0, 2.5)), 0.010, 300.0, 1)
    found = told(meter, sequence)
    assert ("faces_other_way" in found) == (faces == "left")
    if faces == "left":
        assert dict(found["faces_other_way"].values) == {"told": "right", "seen": "left"}


def test_a_runner_who_faces_the_other_way_is_never_judged() -> None:
    told_left = replace(profile_of(VIEW), faces="left")
    meter = GaitMeter(told_left, Belt(RUN.belt_mps))
    seen = [meter.push(pose) for pose in tracked(RUN, 30.0, 5.0)]
    assert not [m for s in seen for m in s.landings if m.shank_deg is not None]
    assert seen[-1].trouble == "facing_wrong"


def test_a_picture_upside_down_is_never_judged() -> None:
    meter = GaitMeter(profile_of(VIEW), Belt(RUN.belt_mps))
    flip = np.array([1.0, -1.0])
    seen = [
        meter.push(replace(pose, xy_px=pose.xy_px * flip + [0.0, pose.height]))
        for pose in tracked(RUN, 30.0, 5.0)
    ]
    assert not [m for s in seen for m in s.landings if m.shank_deg is not None]
    assert {s.trouble for s in seen[-30:]} <= {"impossible_legs", "facing_wrong", "legs_hidden"}
