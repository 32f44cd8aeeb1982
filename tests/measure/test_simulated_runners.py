"""The measurement against simulated runners, whose truth is exact; no parameter changed between."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from station.measure import GaitMeter
from station.simulate.gait import Runner
from station.simulate.parameters import GaitParameters
from station.simulate.trace import (
    add_noise,
    blank,
    frame_times,
    lose,
    poses,
    side_view,
    swap_legs,
)
from station.values import Belt, Facing, Pose, Step, TrueStep, View, ViewProfile

BASE = GaitParameters()
SECONDS = 6.0
CASES: dict[str, tuple[GaitParameters, float, Facing, float]] = {
    "usual": (BASE, 60.0, "right", 0.0),
    "slow": (replace(BASE, belt_mps=2.0, rate_spm=155.0), 60.0, "right", 0.0),
    "fast": (replace(BASE, belt_mps=5.5, rate_spm=190.0), 60.0, "left", 0.0),
    "fast, 30 fps": (replace(BASE, belt_mps=5.5, rate_spm=190.0), 30.0, "right", 0.0),
    "heel": (replace(BASE, foot_deg=20.0), 60.0, "right", 3.0),
    "forefoot": (replace(BASE, foot_deg=-10.0, shank_deg=2.0), 120.0, "right", 0.0),
    "reach, uphill": (replace(BASE, shank_deg=15.0, incline_percent=5.0), 60.0, "left", -3.0),
    "small": (replace(BASE, height_m=1.5, rate_spm=180.0), 60.0, "right", 0.0),
    "tall": (replace(BASE, height_m=2.0), 30.0, "right", 0.0),
    "hops": (replace(BASE, kind="hop", belt_mps=1.2, foot_deg=-5.0), 60.0, "right", 0.0),
    "hops, two each": (
        replace(BASE, kind="hop", hops=(2, 2), belt_mps=1.0, foot_deg=-5.0), 60.0, "right", 0.0,
    ),
}  # fmt: skip


def seen_by_a_tracker(runner: Runner, view: View, fps: float) -> list[Pose]:
    exact = poses(runner, view, frame_times(fps, SECONDS))
    noisy = add_noise(exact, 0.010, view.px_per_m, 3)
    return list(lose(swap_legs(noisy, 0.15, 3).poses, 0.01, 3).poses)


def profile_of(view: View) -> ViewProfile:
    ends = view.to_image(view.plumb_on_belt(np.array([[-0.8, 0.0], [0.8, 0.0]])))
    line = ((float(ends[0, 0]), float(ends[0, 1])), (float(ends[1, 0]), float(ends[1, 1])))
    return ViewProfile(view.faces, view.px_per_m, line, 1280, 720, view.roll_deg)


def steps_of(meter: GaitMeter, sequence: list[Pose]) -> list[Step]:
    steps: list[Step] = []
    for pose in sequence:
        steps += meter.push(pose).steps
    return [*steps, *meter.finish().steps]


def pair(steps: list[Step], truth: tuple[TrueStep, ...]) -> list[tuple[Step, TrueStep]]:
    """Pair each true step that was over before the end with the step that measured it."""
    over = [t for t in truth if t.t_toe_off_s < SECONDS - 0.15]
    steps = [s for s in steps if s.t_contact_s < over[-1].t_contact_s + 0.1]
    assert len(steps) == len(over), "a contact was missed or invented"
    return list(zip(steps, over, strict=True))


@pytest.mark.parametrize("case", CASES)
def test_no_contact_is_missed_or_invented(case: str) -> None:
    parameters, fps, faces, roll_deg = CASES[case]
    runner = Runner(parameters)
    view = side_view(parameters, faces, 300.0, roll_deg=roll_deg)
    sequence = seen_by_a_tracker(runner, view, fps)
    meter = GaitMeter(profile_of(view), Belt(parameters.belt_mps, parameters.incline_percent))
    pairs = pair(steps_of(meter, sequence), runner.truth())
    assert all(step.side == true.side for step, true in pairs)
    off_s = np.array([step.t_contact_s - true.t_contact_s for step, true in pairs])
    assert abs(np.median(off_s)) <= 0.010
    assert np.abs(off_s).max() < 0.060
    shank = [s.shank_deg - t.shank_deg for s, t in pairs if s.shank_deg is not None]
    assert abs(np.median(shank)) <= 3.0  # a slap of the heel is read up to 3 deg high


def test_scale_and_facing_are_learned() -> None:
    way = replace(BASE, incline_percent=5.0)
    runner = Runner(way)
    view = side_view(way, "right", 300.0)
    meter = GaitMeter(ViewProfile(), Belt(way.belt_mps, 5.0))
    learned = None
    for pose in seen_by_a_tracker(runner, view, 60.0):
        learned = meter.push(pose).view or learned
    assert learned is not None
    assert learned.faces == "right"
    assert learned.px_per_m == pytest.approx(300.0, rel=0.04)


def test_slope_is_learned_within_half_a_degree() -> None:
    way = replace(BASE, incline_percent=5.0)
    view = side_view(way, "right", 300.0)
    for seed in (1, 2, 3):
        exact = poses(Runner(way), view, frame_times(60.0, 10.0))
        meter = GaitMeter(ViewProfile(), Belt(way.belt_mps, 5.0))
        learned = None
        for pose in add_noise(exact, 0.010, 300.0, seed):
            learned = meter.push(pose).view or learned
        assert learned is not None
        assert learned.belt_rise_deg == pytest.approx(view.belt_rise_deg, abs=0.5)


def test_a_blanked_stretch_invents_nothing() -> None:
    runner = Runner(BASE)
    view = side_view(BASE, "right", 300.0)
    sequence = list(blank(seen_by_a_tracker(runner, view, 60.0), [(4.0, 4.34)]).poses)
    meter = GaitMeter(profile_of(view), Belt(BASE.belt_mps))
    steps = steps_of(meter, sequence)
    true = [t.t_contact_s for t in runner.truth()]
    assert all(min(abs(s.t_contact_s - t) for t in true) < 0.05 for s in steps)
    assert not [s for s in steps if 4.05 < s.t_contact_s < 4.3]


def test_legs_out_of_the_picture_give_no_contact_and_say_why() -> None:
    view = View(300.0, "right", (640.0, 900.0))  # the knees and what is below lie out of it
    meter = GaitMeter(ViewProfile("right", 300.0), Belt(BASE.belt_mps))
    troubles = set()
    for pose in poses(Runner(BASE), view, frame_times(60.0, 3.0)):
        seen = meter.push(pose)
        assert not seen.landings
        troubles.add(seen.trouble)
    assert troubles == {"legs_hidden"}


def test_an_empty_belt_gives_nothing() -> None:
    meter = GaitMeter(ViewProfile(), Belt(2.5))
    for i in range(120):
        seen = meter.push(Pose.nobody(i / 60.0, i, 1280, 720))
        assert seen.trouble == "nobody"
        assert not seen.in_view
        assert not seen.landings
    assert not meter.finish().steps


def test_an_unchecked_wrong_start_is_outvoted_within_two_strides() -> None:
    runner = Runner(BASE)
    view = side_view(BASE, "right", 300.0)
    exact = list(poses(runner, view, frame_times(60.0, 4.0)))
    wrong = list(swap_legs(exact[:20], 0.5, 1, longest=400).poses)
    meter = GaitMeter(profile_of(view), Belt(BASE.belt_mps))
    steps = steps_of(meter, wrong + exact[20:])
    late = [s for s in steps if s.t_contact_s > 0.33 + 2 * 0.73]
    sides = {round(t.t_contact_s, 1): t.side for t in runner.truth()}
    assert late
    assert all(sides[round(s.t_contact_s, 1)] == s.side for s in late)
