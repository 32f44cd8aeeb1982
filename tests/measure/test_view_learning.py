"""Scale, belt slope and facing learned from 10 s of running when the profile leaves them out.

Bounds: scale within 2 %, slope within 0.5 deg. 10 mm of noise, 15 % swapped, 2 % lost.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from station.measure import GaitMeter
from station.measure.belt_pace import BeltPace
from station.measure.belt_slope import BeltSlope
from station.measure.carried_foot import CarriedFoot, carried_foot, mean_speed
from station.measure.history import History
from station.simulate.gait import Runner
from station.simulate.parameters import GaitParameters
from station.simulate.trace import add_noise, frame_times, lose, poses, side_view, swap_legs
from station.values import Belt, Facing, Pose, View, ViewProfile

RUN = GaitParameters()
HOP = replace(RUN, kind="hop", belt_mps=1.5, foot_deg=-5.0, shank_deg=2.0)
CASES: dict[str, tuple[GaitParameters, float, Facing, float]] = {
    "usual": (RUN, 60.0, "right", 0.0),
    "slow, 30 fps": (replace(RUN, belt_mps=2.0, rate_spm=155.0), 30.0, "right", 0.0),
    "fast": (replace(RUN, belt_mps=5.5, rate_spm=190.0), 60.0, "left", 0.0),
    "fast, uphill, 30 fps": (
        replace(RUN, belt_mps=5.5, rate_spm=200.0, incline_percent=5.0), 30.0, "right", -3.0,
    ),
    "heel, rolled": (replace(RUN, foot_deg=20.0), 30.0, "right", 3.0),
    "uphill, 30 fps": (replace(RUN, incline_percent=5.0), 30.0, "left", -3.0),
    "short": (replace(RUN, height_m=1.5, rate_spm=180.0), 60.0, "left", 0.0),
    "tall, forefoot": (replace(RUN, height_m=2.0, foot_deg=-10.0), 30.0, "right", 0.0),
}  # fmt: skip


def tracked(
    way: GaitParameters, view: View, fps: float, seconds: float = 10.0, seed: int = 1
) -> list[Pose]:
    exact = poses(Runner(way), view, frame_times(fps, seconds))
    noisy = add_noise(exact, 0.010, 300.0, seed)
    return list(lose(swap_legs(noisy, 0.15, seed).poses, 0.02, seed).poses)


def learned(meter: GaitMeter, sequence: list[Pose]) -> View:
    seen = [meter.push(pose).view for pose in sequence][-1]
    assert seen is not None
    return seen


@pytest.mark.parametrize("case", CASES)
def test_the_view_is_learned_in_ten_seconds(case: str) -> None:
    way, fps, faces, roll_deg = CASES[case]
    view = side_view(way, faces, 300.0, roll_deg=roll_deg)
    meter = GaitMeter(ViewProfile(roll_deg=roll_deg), Belt(way.belt_mps, way.incline_percent))
    seen = learned(meter, tracked(way, view, fps))
    assert seen.faces == faces
    assert seen.px_per_m == pytest.approx(300.0, rel=0.02)
    assert seen.belt_rise_deg == pytest.approx(view.belt_rise_deg, abs=0.5)


@pytest.mark.xfail(
    strict=True,
    reason="few frames of a short stance: one cell of ten at 30 fps is off by 2 to 3 % after 10 s",
)
def test_a_short_runner_at_30_fps_shows_the_scale_in_ten_seconds() -> None:
    way = replace(RUN, height_m=1.5, rate_spm=180.0)
    view = side_view(way, "left", 300.0)
    seen = learned(GaitMeter(ViewProfile(), Belt(way.belt_mps)), tracked(way, view, 30.0))
    assert seen.px_per_m == pytest.approx(300.0, rel=0.02)


def test_hops_show_the_scale_within_two_percent_in_thirty_seconds() -> None:
    view = side_view(HOP, "right", 300.0)
    meter = GaitMeter(ViewProfile(), Belt(HOP.belt_mps))
    seen = learned(meter, tracked(HOP, view, 30.0, 30.0))
    assert seen.px_per_m == pytest.approx(300.0, rel=0.02)
    assert seen.belt_rise_deg == pytest.approx(0.0, abs=0.5)


# --- the slope: what is set, and what the feet say ------------------------------------------------


def flat_feet(rise: float, stances: int, seed: int = 1) -> list[np.ndarray]:
    """Feet of stances of four frames each on a belt of slope `rise`, 3 px of noise."""
    rng = np.random.default_rng(seed)
    feet = []
    for _ in range(stances):
        x = np.linspace(60.0, 15.0, 4)[:, None] + np.array([15.0, 0.0, 80.0]) + rng.normal(0.0, 8.0)
        y = rise * x + np.array([25.0, 9.0, 4.0])
        feet.append(np.stack([x, y], axis=-1) + rng.normal(0.0, 3.0, (4, 3, 2)))
    return feet


def slope_deg(set_percent: float | None, rise: float, stances: int, seed: int = 1) -> float:
    belt = BeltSlope()
    belt.set_incline(set_percent)
    for i, foot in enumerate(flat_feet(rise, stances, seed)):
        belt.add(i % 2, foot)
    return math.degrees(math.atan(belt.slope))


def test_before_any_stance_the_slope_is_the_one_set() -> None:
    belt = BeltSlope()
    assert belt.slope == 0.0
    belt.set_incline(5.0)
    assert belt.slope == pytest.approx(0.05)


@pytest.mark.parametrize("seed", [1, 2, 3, 4, 5])
def test_a_wrong_incline_is_corrected_by_the_feet(seed: int) -> None:
    true_deg = math.degrees(math.atan(0.05))
    assert slope_deg(0.0, 0.05, 80, seed) == pytest.approx(true_deg, abs=0.9)


def test_with_no_incline_told_the_feet_alone_count() -> None:
    found = [slope_deg(None, 0.05, 80, seed) for seed in range(1, 9)]
    assert np.mean(found) == pytest.approx(math.degrees(math.atan(0.05)), abs=0.25)


@pytest.mark.parametrize("seed", [1, 2, 3, 4, 5])
def test_a_right_incline_steadies_the_slope(seed: int) -> None:
    assert slope_deg(5.0, 0.05, 25, seed) == pytest.approx(2.86, abs=0.5)


def test_a_new_incline_keeps_what_the_feet_have_corrected() -> None:
    belt = BeltSlope()
    belt.set_incline(0.0)
    for foot in flat_feet(0.05, 80):
        belt.add(0, foot)
    before = belt.slope
    belt.set_incline(3.0)
    assert belt.slope - before == pytest.approx(0.03, abs=0.002)


def test_the_meter_tilts_the_line_of_the_profile_with_the_incline() -> None:
    view = side_view(RUN, "right", 300.0)
    line = ((340.0, view.origin_px[1]), (940.0, view.origin_px[1]))
    meter = GaitMeter(ViewProfile("right", 300.0, line, 1280, 720), Belt(RUN.belt_mps))
    sequence = tracked(RUN, view, 30.0, 4.0)
    for pose in sequence[:60]:
        meter.push(pose)
    meter.set_belt(Belt(RUN.belt_mps, 5.0))
    seen = learned(meter, sequence[60:])
    assert seen.belt_rise_deg == pytest.approx(math.degrees(math.atan(0.05)), abs=0.01)


# --- the speed ------------------------------------------------------------------------------------


@pytest.mark.parametrize("case", ["slow, 30 fps", "fast", "short", "hops"])
def test_the_first_guess_of_the_belt_is_near(case: str) -> None:
    way, fps, faces, _ = (HOP, 30.0, "right", 0.0) if case == "hops" else CASES[case]
    view = side_view(way, faces, 300.0)
    history = History(512, 1)
    for pose in tracked(way, view, fps, 1.6):
        legs = pose.xy_px[[[23, 25, 27, 29, 31], [24, 26, 28, 30, 32]]]
        history.append(pose.t_s, view.to_bay(legs) * 300.0, np.zeros((1, 2)))
    pace = BeltPace()
    assert pace.boot(history, 0.491 * way.height_m * 300.0)
    assert pace.px_s == pytest.approx(300.0 * way.belt_mps, rel=0.15)


def test_a_heel_that_turns_over_the_ball_is_no_slower_belt() -> None:
    tau = np.arange(0.0, 0.22, 1.0 / 120.0)
    lift = np.maximum(tau - 0.11, 0.0) * 4.0  # rad, toes down
    ball = 300.0 - 900.0 * tau
    heel = np.stack([ball - 60.0 * np.cos(lift) + 6.0 * np.sin(lift),
                     6.0 * np.cos(lift) + 60.0 * np.sin(lift)], axis=1)  # fmt: skip
    toe = np.stack([ball + 23.0, np.full_like(tau, 2.0)], axis=1)
    feet = np.stack([heel + 20.0, heel, toe], axis=1)
    found = carried_foot(tau, feet, 0.24, 0.0, 6.0)
    assert found is not None
    assert found.px_s == pytest.approx(900.0, rel=0.01)


def test_one_odd_stance_does_not_move_the_mean() -> None:
    rng = np.random.default_rng(1)
    stances = [CarriedFoot(900.0 + v, 0.01) for v in rng.normal(0.0, 30.0, 20)]
    mean, error = mean_speed([*stances, CarriedFoot(1300.0, 0.01)])
    assert mean == pytest.approx(900.0, abs=20.0)
    spread = np.std([s.px_s for s in stances], ddof=1)
    assert error == pytest.approx(spread / math.sqrt(20.0), rel=0.25)


def test_no_stance_is_left_out_all_at_once() -> None:
    rng = np.random.default_rng(2)
    rest = [CarriedFoot(900.0 + v, 0.01) for v in rng.normal(0.0, 30.0, 20)]
    means = [mean_speed([*rest, CarriedFoot(v, 0.01)])[0] for v in np.arange(900.0, 1400.0, 0.2)]
    assert np.abs(np.diff(means)).max() < 0.2  # by 0.2 px/s; left out at once it would jump by 3
    assert means[-1] == pytest.approx(mean_speed(rest)[0], abs=3.0)
