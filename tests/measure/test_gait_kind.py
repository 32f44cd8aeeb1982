"""Walking is told from running by a lasting double support; slow running without flight is none."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.measure import GaitMeter
from station.measure.gait_kind import WALKING_SHARE, BothDown, GaitKind, both_down
from station.measure.history import ANKLE, History
from station.measure.rhythm import duty_factor
from station.simulate.gait import Runner
from station.simulate.parameters import GaitParameters
from station.simulate.trace import add_noise, frame_times, poses, side_view
from station.values import (
    LANDMARK_INDEX,
    LEG_INDEX,
    Belt,
    Floats,
    Landing,
    Observation,
    Pose,
    Side,
    Step,
    View,
    ViewProfile,
)

VIEW = View(300.0, "right", (640.0, 640.0))
PROFILE = ViewProfile("right", 300.0, ((240.0, 640.0), (1040.0, 640.0)), 1280, 720)
FOOT_M, THIGH_M, SHANK_M = 0.24, 0.44, 0.44
SIDES: tuple[Side, Side] = ("left", "right")


@dataclass(frozen=True)
class Stroll:
    """Plain kinematics: each foot rolls over the belt for its share of the stride, then swings."""

    speed_mps: float
    rate_spm: float
    duty: float
    """Contact time over stride time."""
    bounce_m: float
    """Half the travel of the hips; positive: highest as one foot takes over (a runner's)."""

    @property
    def step_s(self) -> float:
        return 60.0 / self.rate_spm

    @property
    def contact_s(self) -> float:
        return 2.0 * self.step_s * self.duty

    @property
    def double_support_s(self) -> float:
        return self.contact_s - self.step_s

    def foot(self, since_contact_s: float) -> tuple[Floats, float]:
        """Return the toe's place and the foot's pitch (rad, toes up) within a stride."""
        stride, contact, v = 2.0 * self.step_s, self.contact_s, self.speed_mps
        tau = since_contact_s % stride
        lands_at = 0.5 * v * contact + 0.5 * FOOT_M
        down, lift = math.radians(14.0), math.radians(-58.0)
        if tau < contact:
            x = lands_at - v * tau
            pitch = down * max(0.0, 1.0 - tau / (0.14 * contact))
            pitch += lift * max(0.0, (tau / contact - 0.55) / 0.45) ** 2
            return np.array([x, FOOT_M * max(math.sin(pitch), 0.0)]), pitch
        swing = stride - contact
        s = (tau - contact) / swing
        back = lands_at - v * contact
        # Both ends move with the belt, so that neither the touch nor the leaving has a jerk.
        x = back + (lands_at - back + v * swing) * s**2 * (3.0 - 2.0 * s) - v * swing * s
        high = FOOT_M * math.sin(down) * s**2 * (3.0 - 2.0 * s) + 0.05 * math.sin(math.pi * s) ** 2
        return np.array([x, high]), lift + (down - lift) * s**2 * (3.0 - 2.0 * s)

    def pose(self, t_s: float, index: int) -> Pose:
        xy = np.full((33, 2), np.nan)

        def put(name: str, at: Floats) -> None:
            xy[LANDMARK_INDEX[name]] = VIEW.to_image(at)

        middle_s = 0.5 * self.double_support_s  # of the time that one foot takes over
        turn = 2.0 * math.pi * (t_s - middle_s) / self.step_s
        hip = np.array([0.0, 0.88 + self.bounce_m * math.cos(turn)])
        for number, side in enumerate(SIDES):
            toe, pitch = self.foot(t_s + number * self.step_s)
            along = np.array([math.cos(pitch), math.sin(pitch)])
            heel = toe - FOOT_M * along
            ankle = heel + 0.25 * FOOT_M * along + 0.07 * np.array([-along[1], along[0]])
            put(f"{side}_hip", hip)
            put(f"{side}_knee", knee_of(hip, ankle))
            put(f"{side}_ankle", ankle)
            put(f"{side}_heel", heel)
            put(f"{side}_foot_index", toe)
            put(f"{side}_shoulder", hip + np.array([0.03, 0.5]))
        put("nose", hip + np.array([0.15, 0.68]))
        seen = np.where(np.isfinite(xy).all(axis=1), 0.95, np.nan)
        return Pose(t_s, index, xy, seen, 1280, 720)

    def poses(self, seconds: float, from_s: float = 0.0, noise_m: float = 0.005) -> list[Pose]:
        times = from_s + np.arange(round(60.0 * seconds)) / 60.0
        exact = [self.pose(float(t), round(60.0 * float(t))) for t in times]
        return list(add_noise(exact, noise_m, VIEW.px_per_m))


def knee_of(hip: Floats, ankle: Floats) -> Floats:
    """Bend the knee forward so that thigh and shank reach from hip to ankle."""
    reach = ankle - hip
    length = min(float(np.linalg.norm(reach)), 0.999 * (THIGH_M + SHANK_M))
    along = reach / np.linalg.norm(reach)
    part = (THIGH_M**2 - SHANK_M**2 + length**2) / (2.0 * length)
    ahead = math.sqrt(max(THIGH_M**2 - part**2, 0.0))
    return hip + part * along + ahead * np.array([-along[1], along[0]])


WALK = Stroll(1.2, 112.0, 0.62, -0.02)
FAST_WALK = Stroll(1.8, 132.0, 0.575, -0.03)
GROUNDED = Stroll(1.9, 158.0, 0.52, 0.03)
BARELY_FLIGHT = Stroll(2.0, 160.0, 0.485, 0.03)


def watched(sequence: list[Pose], speed_mps: float) -> tuple[list[Observation], list[Step]]:
    meter = GaitMeter(PROFILE, Belt(speed_mps))
    seen = [meter.push(pose) for pose in sequence]
    return seen, [step for o in [*seen, meter.finish()] for step in o.steps]


def landings_of(seen: list[Observation]) -> list[Landing]:
    return [landing for o in seen for landing in o.landings]


@pytest.mark.parametrize("way", [WALK, FAST_WALK], ids=["usual", "fast"])
def test_walking_is_told_within_some_steps_and_its_figures_are_withheld(way: Stroll) -> None:
    seen, steps = watched(way.poses(5.5), way.speed_mps)
    begins = next(o.t_s for o in seen if o.gait == "walking")
    assert begins < 6.5 * way.step_s  # three steps confirm it
    after = [o for o in seen if o.t_s > begins]
    assert {o.gait for o in after} == {"walking"}
    assert {o.trouble for o in after} == {"walking"}
    assert all(o.in_view for o in after)
    assert len(landings_of(after)) >= 3
    for landing in landings_of(after):
        assert (landing.shank_deg, landing.ankle_ahead_m, landing.foot_deg) == (None, None, None)
        assert landing.strike == "unsure"
        assert landing.confidence == 0.0
        assert landing.step_rate_spm == pytest.approx(way.rate_spm, rel=0.08)
    late = [s for s in steps if s.t_contact_s > begins]
    assert late
    withheld = (
        "t_toe_off_s", "contact_s", "flight_s", "duty_factor", "ankle_ahead_m", "shank_deg",
        "shank_loading_deg", "foot_deg", "knee_flexion_deg", "knee_flexion_peak_deg",
        "trailing_thigh_deg", "knee_drive_deg", "vertical_oscillation_m", "toe_dive",
    )  # fmt: skip
    assert {getattr(s, name) for s in late for name in withheld} == {None}
    rates = [s.step_rate_spm for s in late if s.step_rate_spm is not None]
    assert np.median(rates) == pytest.approx(way.rate_spm, abs=1.0)


@pytest.mark.parametrize("way", [GROUNDED, BARELY_FLIGHT], ids=["no flight", "barely"])
def test_running_without_flight_is_running(way: Stroll) -> None:
    seen, steps = watched(way.poses(3.5), way.speed_mps)
    assert "walking" not in {o.gait for o in seen}
    assert "walking" not in {o.trouble for o in seen}
    assert seen[-1].gait == "running"
    assert [s for s in steps if s.shank_deg is not None]


@pytest.mark.parametrize(("rate_spm", "fps"), [(140.0, 60.0), (155.0, 30.0)])
def test_a_slow_jog_is_running(rate_spm: float, fps: float) -> None:
    """2 m/s, with as long a contact as the simulated leg can reach."""
    way = GaitParameters(belt_mps=2.0, rate_spm=rate_spm, contact_s=0.40)
    view = side_view(way, "right", 300.0)
    sequence = list(add_noise(poses(Runner(way), view, frame_times(fps, 3.0)), 0.010, 300.0))
    seen, _ = watched(sequence, 2.0)
    assert "walking" not in {o.gait for o in seen}
    assert seen[-1].gait == "running"


def test_who_breaks_into_a_run_is_judged_again_soon() -> None:
    run = Stroll(1.9, 160.0, 0.40, 0.035)
    walk = replace(run, rate_spm=125.0, duty=0.59, bounce_m=-0.02)
    whole = round(4.0 / (2.0 * walk.step_s)) * 2.0 * walk.step_s  # both begin a left stance
    frames = round(60.0 * whole)
    sequence = walk.poses(frames / 60.0)
    jog = [run.pose(i / 60.0, i) for i in range(240)]
    sequence += [
        replace(p, t_s=p.t_s + frames / 60.0, index=p.index + frames)
        for p in add_noise(jog, 0.005, VIEW.px_per_m, 2)
    ]
    seen, _ = watched(sequence, 1.9)
    changed = frames / 60.0
    assert {o.gait for o in seen if 3.0 < o.t_s < changed} == {"walking"}
    told = next(o.t_s for o in seen if o.t_s > changed and o.gait == "running")
    assert told - changed < 7.0 * run.step_s
    after = [o for o in seen if o.t_s > told]
    assert {o.gait for o in after} == {"running"}
    assert [ld for ld in landings_of(after) if ld.shank_deg is not None]


def test_who_steps_off_and_comes_back_begins_unknown() -> None:
    sequence = WALK.poses(4.0)
    gone = [Pose.nobody(4.0 + i / 60.0, 240 + i, 1280, 720) for i in range(30)]
    back = WALK.poses(1.0, from_s=4.5)
    seen, _ = watched(sequence + gone + back, WALK.speed_mps)
    assert seen[239].gait == "walking"
    assert seen[-1].gait == "unknown"


def test_the_real_trial_runs(trial_poses: list[Pose]) -> None:
    profile = ViewProfile("right", 360.0, ((192.0, 640.0), (1088.0, 640.0)), 1280, 720)
    meter = GaitMeter(profile, Belt(2.5))
    gaits = [meter.push(pose).gait for pose in trial_poses[:200]]
    assert "walking" not in gaits
    assert gaits[-1] == "running"


# --- the measure and the vote themselves --------------------------------------------------------


def history_of(sequence: list[Pose], view: View) -> History:
    """Put poses into the plane as they are: x ahead, y up, pixels."""
    legs = np.array([LEG_INDEX["left"], LEG_INDEX["right"]])
    history = History(len(sequence), 1)
    for pose in sequence:
        xy = view.to_bay(pose.xy_px) * view.px_per_m
        history.append(pose.t_s, xy[legs], xy[:1])
    return history


@pytest.mark.parametrize("way", [WALK, FAST_WALK, GROUNDED], ids=["walk", "fast walk", "grounded"])
def test_double_support_is_measured(way: Stroll) -> None:
    """Plain kinematics gain the half speed in 10 to 20 ms: it is read about 30 ms short."""
    history = history_of(way.poses(5.0), VIEW)
    off_s = []
    for number in range(2, 8):
        other = 1 - number % 2  # the left foot lands at 0, then the right one
        both = both_down(
            history, other, (number - 1) * way.step_s, number * way.step_s,
            300.0 * way.speed_mps, 260.0, 0.0,
        )  # fmt: skip
        assert both is not None
        off_s.append(both.double_support_s - way.double_support_s)
    assert np.median(off_s) == pytest.approx(-0.030, abs=0.010)
    assert np.ptp(off_s) < 0.030


def test_a_runner_s_flight_is_the_force_plate_s(
    trial_poses: list[Pose], plate_times_s: list[tuple[float, float]]
) -> None:
    history = history_of(trial_poses[:420], View(360.0, "right", (640.0, 640.0)))
    off_s = []
    steps = [c for c in plate_times_s if c[0] < 6.5]
    for (before_s, leaves_s), (t_s, _) in pairwise(steps):
        ankles = history.legs[int(np.searchsorted(history.t_s, before_s + 0.12)), :, ANKLE, 1]
        other = int(ankles.argmin())  # the lower one stands
        both = both_down(history, other, before_s, t_s, 2.5 * 360.0, 310.0, 0.0)
        assert both is not None
        assert both.bounces
        off_s.append(both.double_support_s - (leaves_s - t_s))
    assert len(off_s) >= 12
    assert np.median(off_s) == pytest.approx(0.015, abs=0.015)


@settings(deadline=None)
@given(st.floats(0.25, 0.8), st.floats(-0.2, 0.2))
def test_the_share_is_the_duty_factor_s_own_measure(step_s: float, double_s: float) -> None:
    """Contact is step time and double support; over the stride that is the duty factor."""
    both = BothDown(1.0, double_s, step_s + double_s)
    duty = duty_factor(both.contact_s, -double_s)
    assert duty is not None
    assert both.share == pytest.approx(1.0 - 0.5 / duty, abs=1e-9)
    border = 0.5 / (1.0 - WALKING_SHARE)
    assert border == pytest.approx(0.543, abs=0.001)  # clearly over one half
    if abs(duty - border) > 1e-9:
        assert both.walking == (duty > border)


def test_one_odd_step_changes_nothing_and_three_do() -> None:
    kind = GaitKind()
    run, walk = BothDown(0.0, -0.10, 0.26), BothDown(0.0, 0.12, 0.65)
    told = []
    for both in (run, run, run, walk, run, walk, walk, run, walk, walk, walk):
        kind.vote(both)
        told.append(kind.gait)
    assert told[:2] == ["unknown", "unknown"]
    assert told[2:6] == ["running"] * 4
    assert told[6] == "walking"  # three of the last five
    assert told[-1] == "walking"


def test_a_clear_runner_s_bounce_is_no_walk_however_long_the_support() -> None:
    assert BothDown(0.0, 0.10, 0.50).walking
    assert not BothDown(0.0, 0.10, 0.50, bounces=True).walking


def test_contacts_of_one_foot_have_no_say() -> None:
    """A hop, or a step of the other foot that was missed."""
    way = GaitParameters(kind="hop", belt_mps=1.0, foot_deg=-5.0)
    view = side_view(way, "right", 300.0)
    seen, _ = watched(list(poses(Runner(way), view, frame_times(60.0, 3.0))), 1.0)
    assert len(landings_of(seen)) > 4
    assert {o.gait for o in seen} == {"unknown"}


def test_steps_stay_in_order() -> None:
    _, steps = watched(WALK.poses(4.0), WALK.speed_mps)
    assert all(a.number + 1 == b.number and a.side != b.side for a, b in pairwise(steps))
