"""What must hold of the measurement whatever the runner, the clock, the camera or the losses."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import fields, replace
from functools import cache

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from station.measure import GaitMeter
from station.simulate.gait import Runner
from station.simulate.parameters import GaitParameters
from station.simulate.trace import add_noise, frame_times, lose, poses, side_view, swap_legs
from station.values import (
    LANDMARKS,
    Belt,
    Landing,
    Observation,
    Pose,
    Step,
    TrueStep,
    ViewProfile,
    other,
)

WAY = GaitParameters()
WIDTH, HEIGHT, PX_PER_M = 1280, 720, 300.0
BELT_Y = 0.89 * HEIGHT
PROFILE = ViewProfile("right", PX_PER_M, ((240.0, BELT_Y), (1040.0, BELT_Y)), WIDTH, HEIGHT)
PROFILES = {"set up": PROFILE, "learned": ViewProfile()}
SECONDS = 4.5

few = settings(
    max_examples=2,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
)


@cache
def seen(
    fps: float = 59.94, uneven: float = 0.0, seconds: float = SECONDS
) -> tuple[tuple[Pose, ...], tuple[TrueStep, ...]]:
    """A runner as a tracker sees him: 10 mm of noise, 10 % of frames with swapped legs.

    At 60 frames per second some limits (1.3 s, 0.2 s) fall on a frame, and rounding decides.
    """
    runner = Runner(WAY)
    view = side_view(WAY, "right", PX_PER_M)
    exact = poses(runner, view, frame_times(fps, seconds, uneven))
    spoiled = swap_legs(add_noise(exact, 0.010, PX_PER_M, 5), 0.10, 5).poses
    for pose in spoiled:
        pose.xy_px.flags.writeable = False  # a pose is shared: nobody may change it
        pose.visibility.flags.writeable = False
    return spoiled, runner.truth()


def measured(
    sequence: Sequence[Pose], profile: ViewProfile = PROFILE
) -> tuple[list[Landing], list[Step]]:
    meter = GaitMeter(profile, Belt(WAY.belt_mps))
    told: list[Observation] = [meter.push(pose) for pose in sequence]
    landings = [landing for o in told for landing in o.landings]
    return landings, [step for o in [*told, meter.finish()] for step in o.steps]


@cache
def plain(name: str) -> tuple[list[Landing], list[Step]]:
    landings, steps = measured(seen()[0], PROFILES[name])
    assert len(steps) >= 7
    return landings, steps


def same(
    found: Sequence[Landing] | Sequence[Step],
    wanted: Sequence[Landing] | Sequence[Step],
    shift_s: float = 0.0,
    pixels: Callable[[tuple[float, float]], tuple[float, float]] = lambda xy: xy,
) -> None:
    """Every field the same; instants later by `shift_s`, image points moved by `pixels`."""
    assert len(found) == len(wanted)
    for a, b in zip(found, wanted, strict=True):
        for f in fields(a):
            x, y = getattr(a, f.name), getattr(b, f.name)
            where = f"{f.name} of number {b.number}"
            if f.name.startswith("t_") and y is not None:
                y += shift_s
            if f.name.endswith("_px"):
                y = pixels(y)
            if isinstance(y, float) or f.name.endswith("_px"):
                # A clock far from 0 holds microseconds at best; a foot moves 10 m/s.
                assert x == pytest.approx(y, abs=2e-3, rel=1e-6), where
            else:
                assert x == y, where


@pytest.mark.parametrize(("name", "shift_s"), [("set up", 1.0e6), ("learned", -3.0)])
def test_a_later_clock_moves_all_times_and_nothing_else(name: str, shift_s: float) -> None:
    """1e6 s: a machine that has been up for eleven days."""
    moved = [replace(pose, t_s=pose.t_s + shift_s) for pose in seen()[0]]
    landings, steps = measured(moved, PROFILES[name])
    same(landings, plain(name)[0], shift_s)
    same(steps, plain(name)[1], shift_s)


@pytest.mark.parametrize("name", PROFILES)
@few
@given(st.floats(0.4, 3.0))
def test_a_larger_picture_gives_the_same_metres_and_angles(name: str, k: float) -> None:
    width, height = 10 * WIDTH, 10 * HEIGHT  # room for every size
    larger = [replace(pose, xy_px=k * pose.xy_px, width=width, height=height) for pose in seen()[0]]
    profile = PROFILES[name]
    if profile is PROFILE:
        line = ((240.0 * k, BELT_Y * k), (1040.0 * k, BELT_Y * k))
        profile = ViewProfile("right", k * PX_PER_M, line, width, height)
    landings, steps = measured(larger, profile)
    same(landings, plain(name)[0], pixels=lambda xy: (k * xy[0], k * xy[1]))
    same(steps, plain(name)[1])


def _mirrored(landmark: str) -> str:
    words = {"left": "right", "right": "left"}
    return "_".join(words.get(word, word) for word in landmark.split("_"))


@pytest.mark.parametrize("name", PROFILES)
def test_a_mirror_image_is_the_same_runner_facing_the_other_way(name: str) -> None:
    """A tracker calls the mirrored right leg the left one."""
    swap = [LANDMARKS.index(_mirrored(landmark)) for landmark in LANDMARKS]
    mirrored = [
        replace(
            pose,
            xy_px=(np.array([WIDTH, 0.0]) + pose.xy_px * [-1.0, 1.0])[swap],
            visibility=pose.visibility[swap],
        )
        for pose in seen()[0]
    ]
    profile = PROFILES[name]
    if profile is PROFILE:
        profile = replace(profile, faces="left", belt_line=((240.0, BELT_Y), (1040.0, BELT_Y)))
    landings, steps = measured(mirrored, profile)
    named = [replace(item, side=other(item.side)) for item in landings]
    same(named, plain(name)[0], pixels=lambda xy: (WIDTH - xy[0], xy[1]))
    same([replace(item, side=other(item.side)) for item in steps], plain(name)[1])


def test_two_measurements_side_by_side_do_not_touch_each_other() -> None:
    """However the poses come in, in turns with another runner's or alone."""
    meters = [GaitMeter(PROFILES[name], Belt(WAY.belt_mps)) for name in PROFILES]
    told: list[list[Step]] = [[], []]
    for pose in seen()[0]:
        for i, meter in enumerate(meters):
            told[i] += meter.push(pose).steps
    for i, name in enumerate(PROFILES):
        assert [*told[i], *meters[i].finish().steps] == plain(name)[1]


@pytest.mark.parametrize("name", PROFILES)
@few
@given(st.floats(0.3, 0.95))
def test_a_trace_cut_anywhere_told_the_same_so_far(name: str, share: float) -> None:
    sequence = seen()[0]
    cut = int(share * len(sequence))
    meter = GaitMeter(PROFILES[name], Belt(WAY.belt_mps))
    told = [meter.push(pose) for pose in sequence[:cut]]
    landings = [landing for o in told for landing in o.landings]
    steps = [step for o in told for step in o.steps]
    assert landings == plain(name)[0][: len(landings)]
    assert steps == plain(name)[1][: len(steps)]
    # The end adds what was under way, and changes nothing that was told.
    numbers = [step.number for step in [*steps, *meter.finish().steps]]
    assert numbers == list(range(1, len(numbers) + 1))
    assert len(numbers) <= len(landings)


def against_truth(steps: Sequence[Step], truth: Sequence[TrueStep], until_s: float) -> None:
    """No contact missed or invented, each by the right foot."""
    # A foot that lands right at the start was not seen coming.
    over = [t for t in truth if t.t_contact_s > 0.4 and t.t_toe_off_s < until_s - 0.15]
    steps = [s for s in steps if 0.4 < s.t_contact_s < over[-1].t_contact_s + 0.1]
    assert [s.side for s in steps] == [t.side for t in over]
    off_s = np.array([s.t_contact_s - t.t_contact_s for s, t in zip(steps, over, strict=True)])
    assert np.abs(off_s).max() < 0.060
    assert abs(np.median(off_s)) < 0.015


@few
@given(st.integers(0, 10_000))
def test_lost_frames_invent_nothing(seed: int) -> None:
    sequence, truth = seen()
    _, steps = measured(lose(sequence, 0.15, seed).poses)
    nearest = [min(truth, key=lambda t, s=s: abs(t.t_contact_s - s.t_contact_s)) for s in steps]
    assert len({id(t) for t in nearest}) == len(steps)  # none twice
    assert all(t.side == s.side for s, t in zip(steps, nearest, strict=True))
    off_s = [s.t_contact_s - t.t_contact_s for s, t in zip(steps, nearest, strict=True)]
    assert np.abs(off_s).max() < 0.060
    assert len(steps) >= len(truth) - 4


@pytest.mark.parametrize("uneven", [0.45])
def test_uneven_frames_are_measured_by_their_own_times(uneven: float) -> None:
    sequence, truth = seen(uneven=uneven)
    against_truth(measured(sequence)[1], truth, SECONDS)


@pytest.mark.parametrize("fps", [24.0, 240.0])
def test_any_frame_rate(fps: float) -> None:
    sequence, truth = seen(fps, seconds=4.0)
    steps = measured(sequence)[1]
    against_truth(steps, truth, 4.0)
    runner = Runner(replace(WAY, variability=0.0))
    figures = [runner.figure_at(t_s) for t_s in np.arange(1.0, 1.75, 0.01)]
    hips = [sum(leg.hip[1] for leg in figure.legs.values()) / 2.0 for figure in figures]
    travels = [s.vertical_oscillation_m for s in steps if s.vertical_oscillation_m is not None]
    # Means over three frames once took a quarter of it away at 24 frames per second.
    assert np.median(travels) == pytest.approx(max(hips) - min(hips), abs=0.006)
