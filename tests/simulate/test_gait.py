"""The simulated gait: its truth against its own geometry, over the range it must run."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from station.simulate.figure import Figure, Leg
from station.simulate.gait import Runner
from station.simulate.parameters import GaitParameters
from station.simulate.steps import StepDetail
from station.simulate.trace import poses, side_view
from station.values import LANDMARK_INDEX, Side

SIDES: tuple[Side, ...] = ("left", "right")
HEEL = GaitParameters()
CASES = {
    "heel": HEEL,
    "forefoot": replace(HEEL, belt_mps=2.5, rate_spm=157.0, foot_deg=-8.0, height_m=1.81),
    "midfoot, uphill": replace(HEEL, foot_deg=0.0, incline_percent=5.0, variability=0.5),
    "slow, short, reaching": replace(
        HEEL, belt_mps=2.0, rate_spm=150.0, foot_deg=20.0, shank_deg=15.0, height_m=1.5
    ),
    "fast, tall": replace(HEEL, belt_mps=5.5, rate_spm=200.0, shank_deg=-5.0, height_m=2.0),
    "fast, long steps": replace(HEEL, belt_mps=5.5, rate_spm=150.0, foot_deg=-10.0),
    "tall, quick, vertical shank": replace(
        HEEL, rate_spm=200.0, foot_deg=-10.0, shank_deg=-5.0, height_m=2.0, incline_percent=5.0
    ),
    "hop left": replace(HEEL, kind="hop", belt_mps=1.25, rate_spm=140.0),
    "hop two and two": replace(HEEL, kind="hop", belt_mps=1.0, rate_spm=130.0, hops=(2, 2)),
}
every_case = pytest.mark.parametrize("way", CASES.values(), ids=CASES.keys())


def height(point: np.ndarray, way: GaitParameters) -> float:
    """Height over the belt, square to it, by plain trigonometry."""
    rise = math.atan(way.incline_percent / 100.0)
    return float(point[1] * math.cos(rise) - point[0] * math.sin(rise))


def along(point: np.ndarray, way: GaitParameters) -> float:
    rise = math.atan(way.incline_percent / 100.0)
    return float(point[0] * math.cos(rise) + point[1] * math.sin(rise))


def lowest(leg: Leg, way: GaitParameters) -> float:
    return min(height(p, way) for p in (leg.sole_heel, leg.sole_ball, leg.sole_toe))


def shank_deg(leg: Leg) -> float:
    dx, dy = leg.ankle - leg.knee
    return math.degrees(math.atan2(dx, -dy))


def flexion_deg(leg: Leg) -> float:
    dx, dy = leg.knee - leg.hip
    bend = math.degrees(math.atan2(dx, -dy)) - shank_deg(leg)
    return (bend + 180.0) % 360.0 - 180.0


def steps_of(way: GaitParameters, seconds: float = 2.5) -> tuple[StepDetail, ...]:
    runner = Runner(way)
    runner.figure_at(seconds)
    return runner.details()


def film(way: GaitParameters, times_s: list[float]) -> list[Figure]:
    runner = Runner(way)
    return [runner.figure_at(t) for t in times_s]


@every_case
def test_every_instant_is_a_possible_body(way: GaitParameters) -> None:
    runner = Runner(way)
    thigh, shank = 0.245 * way.height_m, 0.246 * way.height_m  # Winter 2009, Fig. 4.1
    for t_s in np.arange(0.0, 2.0, 1.0 / 100.0):
        for leg in runner.figure_at(float(t_s)).legs.values():
            assert np.linalg.norm(leg.knee - leg.hip) == pytest.approx(thigh, abs=1e-9)
            assert np.linalg.norm(leg.ankle - leg.knee) == pytest.approx(shank, abs=1e-9)
            assert 3.0 < flexion_deg(leg) < 150.0
            if leg.on_belt:
                assert lowest(leg, way) == pytest.approx(0.0, abs=1e-9)
            else:
                assert lowest(leg, way) > 0.0


@every_case
def test_truth_is_the_first_and_last_touch_of_the_sole(way: GaitParameters) -> None:
    steps = [d.step for d in steps_of(way)][:5]
    asked = [
        (step.t_contact_s + off, step.side, touching)
        for step in steps
        for off, touching in ((-1e-3, False), (-1e-6, False), (0.0, True), (1e-6, True))
    ]
    # The toes leave with no speed square to the belt: what has left is seen a little later.
    asked += [
        (step.t_toe_off_s + off, step.side, touching)
        for step in steps
        for off, touching in ((-1e-6, True), (0.0, True), (1e-3, False), (1e-2, False))
    ]
    asked.sort()
    for (t_s, side, touching), figure in zip(
        asked, film(way, [t for t, _, _ in asked]), strict=True
    ):
        low = lowest(figure.legs[side], way)
        assert low == pytest.approx(0.0, abs=1e-9) if touching else low > 1e-8, (t_s, side)


def test_truth_by_bisection() -> None:
    step = steps_of(HEEL, 1.0)[0].step
    low, high = step.t_contact_s - 0.02, step.t_contact_s + 0.02
    while high - low > 1e-7:
        middle = 0.5 * (low + high)
        clear = lowest(Runner(HEEL).figure_at(middle).legs[step.side], HEEL) > 1e-10
        low, high = (middle, high) if clear else (low, middle)
    assert high == pytest.approx(step.t_contact_s, abs=2e-7)


@every_case
def test_the_touching_sole_moves_with_the_belt(way: GaitParameters) -> None:
    for detail in steps_of(way)[1:4]:
        step = detail.step
        times_s = [float(t) for t in np.linspace(step.t_contact_s, step.t_toe_off_s, 60)]
        legs = [f.legs[step.side] for f in film(way, times_s)]
        shown = film(way, [times_s[0], times_s[-1]])
        run_m = shown[1].belt_travel_m - shown[0].belt_travel_m
        assert run_m == pytest.approx(way.belt_mps * (times_s[-1] - times_s[0]), abs=1e-9)
        stayed = 0
        for part in ("sole_heel", "sole_ball", "sole_toe"):
            down = [
                (t, along(getattr(leg, part), way))
                for t, leg in zip(times_s, legs, strict=True)
                if abs(height(getattr(leg, part), way)) < 1e-12
            ]
            for t_s, s_m in down:
                moved = s_m - down[0][1]
                assert moved == pytest.approx(-way.belt_mps * (t_s - down[0][0]), abs=1e-9)
            stayed += len(down)
        assert stayed >= len(times_s)  # at every instant something touches


@every_case
def test_shank_and_foot_at_contact_are_the_ones_asked_for(way: GaitParameters) -> None:
    steady = replace(way, variability=0.0)
    details = steps_of(steady)
    assert len(details) >= 4
    runner = Runner(steady)
    for detail in details:
        step = detail.step
        leg = runner.figure_at(step.t_contact_s).legs[step.side]
        assert leg.on_belt
        assert shank_deg(leg) == pytest.approx(way.shank_deg, abs=1e-6)
        assert step.shank_deg == pytest.approx(way.shank_deg, abs=1e-9)
        assert step.ankle_ahead_m == pytest.approx(float(leg.ankle[0] - leg.knee[0]), abs=1e-9)
        dx, dy = leg.sole_ball - leg.sole_heel
        rise = math.degrees(math.atan(way.incline_percent / 100.0))
        assert math.degrees(math.atan2(dy, dx)) - rise == pytest.approx(way.foot_deg, abs=1e-6)
        assert flexion_deg(leg) == pytest.approx(detail.knee_flexion_deg, abs=1e-6)
        for part in ("knee", "ankle", "heel", "toe", "hip"):
            assert getattr(leg, part) == pytest.approx(getattr(detail, part), abs=1e-9)


@pytest.mark.parametrize("shank", [-5.0, 0.0, 7.5, 15.0])
@pytest.mark.parametrize("foot", [-10.0, -1.0, 4.0, 20.0])
def test_shank_at_contact_over_the_grid(shank: float, foot: float) -> None:
    belt_mps = 2.0 + (shank + foot + 15.0) % 3.5
    way = GaitParameters(shank_deg=shank, foot_deg=foot, belt_mps=belt_mps, rate_spm=172.0)
    runner = Runner(way)
    for detail in steps_of(way, 1.0):
        step = detail.step
        leg = runner.figure_at(step.t_contact_s).legs[step.side]
        assert shank_deg(leg) == pytest.approx(step.shank_deg, abs=1e-6)
        assert abs(step.shank_deg - shank) < 3.0  # the runner's own spread, 1 deg


def test_velocity_jumps_only_at_contact() -> None:
    dt = 0.0002
    for way in (CASES["forefoot"], CASES["hop two and two"]):
        runner = Runner(way)
        times_s = np.arange(0.3, 1.4, dt)
        figures = [runner.figure_at(float(t)) for t in times_s]
        contacts = [(s.t_contact_s, s.side) for s in runner.truth()]
        for side in SIDES:
            for part in ("hip", "knee", "ankle", "heel", "toe"):
                path = np.array([getattr(f.legs[side], part) for f in figures])
                jump = np.linalg.norm(np.diff(path, 2, axis=0), axis=1) / dt
                for t_s, _ in [c for c in contacts if c[1] == side]:
                    jump[np.abs(times_s[1:-1] - t_s) < 1.5 * dt] = 0.0
                assert jump.max() < 0.2, (side, part)  # 1000 m/s2: no jump, only acceleration


def test_contact_is_an_impact_of_a_runner() -> None:
    way = replace(CASES["heel"], variability=0.0)
    step = steps_of(way)[3].step
    before = film(way, [step.t_contact_s - 2e-5, step.t_contact_s - 1e-5])
    velocity = (before[1].legs[step.side].sole_heel - before[0].legs[step.side].sole_heel) / 1e-5
    assert -1.5 < velocity[1] < -0.5
    assert -1.2 * way.belt_mps < velocity[0] < -0.5 * way.belt_mps
    rate = (shank_deg(before[1].legs[step.side]) - shank_deg(before[0].legs[step.side])) / 1e-5
    assert -260.0 < rate < -140.0  # about -200 deg/s in the real trial at 2.5 m/s


def test_a_flat_landing_comes_down_as_the_real_one() -> None:
    # The open trial's runner (Fukuchi et al. 2017) at 2.5 m/s: ankle back at 0.55 of the belt's
    # speed and down at 0.58 m/s, shank turning back at about 200 deg/s.
    way = GaitParameters(2.5, rate_spm=157.0, shank_deg=5.9, foot_deg=0.0, variability=0.0)
    step = steps_of(way)[3].step
    before = film(way, [step.t_contact_s - 2e-5, step.t_contact_s - 1e-5])
    velocity = (before[1].legs[step.side].ankle - before[0].legs[step.side].ankle) / 1e-5
    assert velocity[0] == pytest.approx(-0.55 * way.belt_mps, abs=0.15 * way.belt_mps)
    assert velocity[1] == pytest.approx(-0.58, abs=0.25)
    rate = (shank_deg(before[1].legs[step.side]) - shank_deg(before[0].legs[step.side])) / 1e-5
    assert -260.0 < rate < -140.0


def test_same_seed_same_run_and_the_order_of_asking_does_not_matter() -> None:
    coarse, fine = Runner(HEEL), Runner(HEEL)
    for t_s in np.arange(0.0, 4.0, 1 / 240):
        fine.figure_at(float(t_s))
    coarse.figure_at(float(np.arange(0.0, 4.0, 1 / 240)[-1]))
    assert coarse.truth() == fine.truth()
    other = Runner(replace(HEEL, seed=2))
    other.figure_at(4.0)
    assert other.truth() != fine.truth()


def test_steps_alternate_at_the_rate_with_flight_between() -> None:
    steps = [d.step for d in steps_of(HEEL, 12.0)]
    assert all(a.side != b.side for a, b in pairwise(steps))
    gaps = np.diff([s.t_contact_s for s in steps])
    assert 60.0 / gaps.mean() == pytest.approx(HEEL.rate_spm, rel=0.015)
    assert 0.005 < gaps.std() / gaps.mean() < 0.03
    assert all(b.t_contact_s > a.t_toe_off_s for a, b in pairwise(steps))


def test_hop_patterns() -> None:
    sides = [d.step.side for d in steps_of(CASES["hop two and two"], 6.0)]
    assert sides[:8] == ["left", "left", "right", "right"] * 2
    assert {d.step.side for d in steps_of(CASES["hop left"], 4.0)} == {"left"}


def test_a_runner_jogs_on_a_slow_belt_hops_by_rounds_and_runs_on() -> None:
    way = replace(HEEL, shank_deg=10.0)
    runner = Runner(way)
    runner.figure_at(0.5)
    runner.set_belt(1.3)
    runner.hop([3, 1], "right")  # not before the belt is slow enough
    ran = "".join(d.step.side[0] for d in runner.details())
    for t_s in np.arange(0.5, 10.0, 1 / 60):
        if t_s == 8.0:
            runner.set_belt(2.7)
        for leg in runner.figure_at(float(t_s)).legs.values():
            low = lowest(leg, way)
            assert abs(low) < 1e-9 if leg.on_belt else low > 0.0
    steps = runner.details()
    feet = "".join(d.step.side[0] for d in steps)
    at = feet.index("rrr")
    assert feet[at : at + 8] == "rrrlllrl"
    assert "rr" not in feet[:at]
    assert ran in feet
    hops = steps[at : at + 8]
    assert all(d.belt_mps < 2.2 and d.step.shank_deg < 6.0 and d.foot_deg < 0.0 for d in hops)
    assert [d.belt_mps for d in steps if 6.0 < d.step.t_contact_s < 8.0] == pytest.approx(
        [1.3] * sum(6.0 < d.step.t_contact_s < 8.0 for d in steps)
    )
    assert "rr" not in feet[at + 8 :]
    assert "ll" not in feet[at + 8 :]


def test_belt_and_way_may_change_and_truth_stays_exact() -> None:
    runner = Runner(HEEL)
    runner.figure_at(1.0)
    at_speed_s = runner.change(replace(HEEL, belt_mps=3.6, rate_spm=180.0, shank_deg=2.0))
    for t_s in np.arange(1.0, at_speed_s + 3.0, 1 / 60):
        for leg in runner.figure_at(float(t_s)).legs.values():
            low = lowest(leg, HEEL)
            assert abs(low) < 1e-9 if leg.on_belt else low > 0.0
    late = [d for d in runner.details() if d.step.t_contact_s > at_speed_s]
    assert [d.belt_mps for d in late] == pytest.approx([3.6] * len(late))
    assert np.mean([d.step.shank_deg for d in late]) == pytest.approx(2.0, abs=1.0)
    with pytest.raises(ValueError, match="height_m"):
        runner.change(replace(HEEL, height_m=1.6))


@pytest.mark.parametrize("faces", ["left", "right"])
def test_seen_from_both_sides(faces: Side) -> None:
    way = replace(CASES["midfoot, uphill"], variability=0.0)
    view = side_view(way, faces, roll_deg=2.0)
    step = steps_of(way)[2].step
    (pose,) = poses(Runner(way), view, [step.t_contact_s])
    bay = view.to_bay(pose.xy_px)
    knee, ankle = (bay[LANDMARK_INDEX[f"{step.side}_{p}"]] for p in ("knee", "ankle"))
    dx, dy = ankle - knee
    assert math.degrees(math.atan2(dx, -dy)) == pytest.approx(way.shank_deg, abs=1e-6)
    toe_px, heel_px = (
        pose.xy_px[LANDMARK_INDEX[f"{step.side}_{p}"]] for p in ("foot_index", "heel")
    )
    assert (toe_px[0] > heel_px[0]) == (faces == "right")
    assert pose.xy_px[LANDMARK_INDEX["nose"], 1] < pose.xy_px[LANDMARK_INDEX["left_hip"], 1]


def test_time_may_not_run_backward() -> None:
    runner = Runner(HEEL)
    runner.figure_at(1.0)
    with pytest.raises(ValueError, match="may not fall"):
        runner.figure_at(0.9)
    with pytest.raises(ValueError, match="may not fall"):
        Runner(HEEL).figure_at(-0.1)


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("belt_mps", 1.0), ("belt_mps", math.nan), ("rate_spm", 90.0), ("shank_deg", 25.0),
        ("foot_deg", -20.0), ("height_m", 2.3), ("contact_s", 0.7), ("hops", (0, 0)),
        ("oscillation_m", 0.3), ("knee_flexion_deg", 2.0),
    ],
)  # fmt: skip
def test_refused_naming_what_is_allowed(key: str, value: object) -> None:
    with pytest.raises(ValueError, match=f"{key} is .*allow"):
        GaitParameters(**{key: value})  # type: ignore[arg-type]
