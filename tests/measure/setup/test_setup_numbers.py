from __future__ import annotations

import math

import numpy as np
import pytest

from station.measure.setup.belt_flow import BeltFlow
from station.measure.setup.framing import framing_of
from station.measure.setup.pace import is_enough, is_halved, pace_of
from station.measure.setup.scale import belt_rise_deg, scale_of
from station.measure.squareness import SquareWatch, short_percent
from station.values import LANDMARKS, Pose


def test_scale_from_a_known_length() -> None:
    scale = scale_of((100.0, 600.0), (460.0, 606.0), 1.2)
    assert scale is not None
    assert scale.px_per_m == pytest.approx(math.hypot(360.0, 6.0) / 1.2)
    assert scale.error_share == pytest.approx(math.sqrt(2.0) / math.hypot(360.0, 6.0))


@pytest.mark.parametrize("length_m", [0.0, -1.0, math.nan, math.inf])
def test_no_scale_without_a_length(length_m: float) -> None:
    assert scale_of((0.0, 0.0), (100.0, 0.0), length_m) is None


def test_no_scale_from_one_point() -> None:
    assert scale_of((5.0, 5.0), (5.0, 5.0), 1.0) is None


@pytest.mark.parametrize("faces", ["right", "left"])
def test_the_cameras_roll_is_taken_out_of_the_belts_slope(faces) -> None:
    """A level line runs 2 deg downhill to the right; the belt rises 1 deg ahead."""
    ahead = 1.0 if faces == "right" else -1.0
    seen = math.radians(2.0 - ahead * 1.0)
    start, end = (0.0, 300.0), (800.0, 300.0 + 800.0 * math.tan(seen))
    assert belt_rise_deg(start, end, 2.0, faces) == pytest.approx(1.0)
    assert belt_rise_deg(end, start, 2.0, faces) == pytest.approx(1.0)


def test_the_pace_counts_what_was_let_go_too() -> None:
    index = np.arange(0, 240, 3)
    pace = pace_of(tuple(index / 60.0), tuple(index))
    assert pace is not None
    assert pace.fps == pytest.approx(60.0)


def test_a_pace_that_falls_to_half_is_told_by_its_slowest() -> None:
    t = np.concatenate([np.arange(0.0, 2.0, 1 / 60), np.arange(2.0, 4.0, 1 / 30)])
    pace = pace_of(tuple(t), tuple(range(len(t))))
    assert pace is not None
    assert pace.slowest_fps == pytest.approx(30.0, rel=0.05)
    assert 30.0 < pace.fps < 60.0


@pytest.mark.parametrize(
    ("fps", "halved", "enough"),
    [(60, False, True), (58, False, True), (50, False, False), (30.1, True, False),
     (15, False, False)],
)  # fmt: skip
def test_half_of_what_is_asked(fps: float, halved: bool, enough: bool) -> None:
    assert is_halved(fps, 60.0) is halved
    assert is_enough(fps, 60.0) is enough


def test_too_few_pictures_have_no_pace() -> None:
    assert pace_of((0.0, 0.1), (0, 1)) is None
    assert pace_of((), ()) is None
    assert pace_of((1.0,) * 20, tuple(range(20))) is None


def body(**moved: tuple[float, float]) -> Pose:
    """A body 500 px tall in a 1280 x 720 picture."""
    xy = np.full((33, 2), 640.0)
    heights = {"nose": 130.0, "ear": 120.0, "shoulder": 210.0, "hip": 360.0, "knee": 480.0,
               "ankle": 600.0, "heel": 610.0, "foot_index": 615.0}  # fmt: skip
    for number, name in enumerate(LANDMARKS):
        part = name.partition("_")[2] or name
        xy[number, 1] = heights.get(part, heights.get(name, 250.0))
        if name in moved:
            xy[number] = moved[name]
    return Pose(0.0, 0, xy, np.full(33, 0.95), 1280, 720)


def test_a_whole_body_is_whole() -> None:
    found = framing_of(body())
    assert found is not None
    assert found.whole
    assert found.large_enough
    assert found.leg_px == pytest.approx(240.0)


@pytest.mark.parametrize(("point", "at", "edge"), [
    ("left_ear", (640.0, 10.0), "top"), ("left_heel", (640.0, 716.0), "bottom"),
    ("right_wrist", (10.0, 300.0), "left"), ("right_foot_index", (1275.0, 600.0), "right"),
])  # fmt: skip
def test_what_the_edge_cuts_is_told(point: str, at: tuple[float, float], edge: str) -> None:
    moved = {point: at, point.replace("left", "right"): at} if edge == "top" else {point: at}
    found = framing_of(body(**moved))
    assert found is not None
    assert found.cut == (edge,)


def test_nobody_has_no_framing() -> None:
    assert framing_of(Pose.nobody(0.0, 0, 1280, 720)) is None


def test_legs_that_the_model_guesses_are_not_seen() -> None:
    pose = body()
    pose.visibility[:] = 0.45
    found = framing_of(pose)
    assert found is not None
    assert not found.legs_seen


@pytest.mark.parametrize("off_deg", [0.0, 8.0, 20.0])
def test_off_square_from_shoulders_and_hips(off_deg: float) -> None:
    """Joints half their distance to either side of the trunk's line, turned by the angle."""
    watch = SquareWatch()
    trunk, sine = 150.0, math.sin(math.radians(off_deg))
    for _ in range(60):
        watch.see(
            body(
                left_shoulder=(640.0 - 0.375 * trunk * sine, 210.0),
                right_shoulder=(640.0 + 0.375 * trunk * sine, 210.0),
                left_hip=(640.0 - 0.175 * trunk * sine, 360.0),
                right_hip=(640.0 + 0.175 * trunk * sine, 360.0),
            )
        )
    assert watch.off_deg == pytest.approx(off_deg, abs=0.1)
    assert short_percent(20.0) == pytest.approx(6.03, abs=0.01)


def test_too_few_poses_tell_no_angle() -> None:
    watch = SquareWatch()
    watch.see(Pose.nobody(0.0, 0, 1280, 720))
    watch.see(body())
    assert watch.off_deg is None
    assert 0.0 < watch.share < 0.1


def strip(travel: float, marks: bool = True) -> np.ndarray:
    """A belt with marks every 200 px, seen along a level line, moved left by `travel` px."""
    x = np.arange(640.0)
    line = np.full(640, 60.0)
    for place, wide, level in ((0.0, 20.0, 150.0), (70.0, 8.0, 80.0), (120.0, 30.0, 45.0)):
        if marks:
            at = (x + travel - place) % 200.0
            line = np.where(at < wide, level, line)
    grey = np.tile(line, (40, 1)).astype(np.float32)
    grey += (
        np.random.default_rng(int(10 * abs(travel))).normal(0.0, 2.0, grey.shape).astype(np.float32)
    )
    return np.repeat(np.clip(grey, 0, 255).astype(np.uint8)[..., None], 3, axis=2)


@pytest.mark.parametrize(("faces", "px_s"), [("right", 850.0), ("left", 430.0)])
def test_the_belts_pattern_tells_its_speed(faces, px_s: float) -> None:
    flow = BeltFlow(((20.0, 20.0), (620.0, 20.0)), faces)
    way = 1.0 if faces == "right" else -1.0
    for n in range(40):
        flow.see(strip(way * px_s * n / 30.0), n / 30.0)
    assert flow.flow is not None
    assert flow.flow.px_s == pytest.approx(px_s, rel=0.005)


def test_a_belt_without_marks_tells_nothing() -> None:
    flow = BeltFlow(((20.0, 20.0), (620.0, 20.0)), "right")
    for n in range(40):
        flow.see(strip(float(n), marks=False), n / 30.0)
    assert flow.flow is None


def test_what_is_hidden_is_not_followed() -> None:
    """A bright box swings forward over the belt: without looking away it would be in the sum."""
    flow = BeltFlow(((20.0, 20.0), (620.0, 20.0)), "right")
    for n in range(50):
        grey = strip(600.0 * n / 30.0)
        x = int(100 + (n * 30) % 400)
        grey[:, x : x + 60] = 230.0
        flow.see(grey, n / 30.0, ((x - 2.0, x + 62.0),))
    assert flow.flow is not None
    assert flow.flow.px_s == pytest.approx(600.0, rel=0.01)
