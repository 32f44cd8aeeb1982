"""Leg identity: swapped legs are put right, on the real trial and on simulated runners."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from station.bench.pushing import spoil
from station.measure.history import ANKLE, KNEE
from station.measure.leg_tracks import LegTracks, NamedLegs
from station.simulate.gait import Runner
from station.simulate.parameters import GaitParameters
from station.simulate.trace import (
    LOWER_LEG,
    add_noise,
    frame_times,
    lose,
    poses,
    side_view,
    swap_legs,
)
from station.values import LEG_INDEX, Floats, Pose

BASE = GaitParameters()
LEGS = np.array([LEG_INDEX["left"], LEG_INDEX["right"]])
SECONDS = 4.0
APART = 0.15
"""Feet nearer than this, in leg lengths, tell no leg from the other."""
RUNNERS = {
    "usual": BASE,
    "slow": replace(BASE, belt_mps=2.0, rate_spm=155.0),
    "fast": replace(BASE, belt_mps=5.5, rate_spm=190.0),
    "hops": replace(BASE, kind="hop", belt_mps=1.2, foot_deg=-5.0),
}
TRIAL_PX_PER_M, PX_PER_M = 360.0, 300.0
ON = np.array([1.0, -1.0])
"""From image to plane: y up."""


def legs_of(pose: Pose) -> Floats:
    return pose.xy_px[LEGS] * ON


def named(sequence: list[Pose]) -> list[NamedLegs]:
    tracks = LegTracks()
    return [tracks.push(pose.t_s, legs_of(pose)) for pose in sequence]


def wrong_share(legs: list[Floats], true: list[Floats]) -> float:
    """Return the share of frames with the knees or the feet on the wrong legs."""
    found, wanted = np.stack(legs), np.stack(true)
    thigh_and_shank = np.linalg.norm(np.diff(wanted[:, :, : ANKLE + 1], axis=2), axis=-1)
    leg = np.median(thigh_and_shank.sum(axis=2))
    wrong = np.zeros(len(found), bool)
    clear = np.zeros(len(found), bool)
    for part in (slice(KNEE, KNEE + 1), slice(ANKLE, None)):
        here, there = found[:, :, part], wanted[:, :, part]
        straight = np.linalg.norm(here - there, axis=-1).sum(axis=(1, 2))
        across = np.linalg.norm(here - there[:, ::-1], axis=-1).sum(axis=(1, 2))
        apart = np.linalg.norm(there[:, 0] - there[:, 1], axis=-1).mean(axis=1) > APART * leg
        clear |= apart
        wrong |= apart & (across < straight)  # a blanked point is no wrong one
    return float(wrong.sum() / clear.sum())


def spoiled(
    exact: list[Pose], px_per_m: float, how: str, seed: int
) -> tuple[list[Pose], list[Floats]]:
    """Add 10 mm of noise, swap 15 % of the frames in bursts, lose 2 %."""
    noisy = list(add_noise(exact, 0.010, px_per_m, seed))
    if how == "whole":
        swapped = swap_legs(noisy, 0.15, seed).poses
    elif how == "below the knee":
        swapped = swap_legs(noisy, 0.15, seed, parts=LOWER_LEG).poses
    else:
        half = swap_legs(noisy, 0.075, seed).poses
        swapped = swap_legs(half, 0.075, seed + 50, parts=LOWER_LEG).poses
    lost = lose(swapped, 0.02, seed)
    true = [legs_of(pose) for pose, gone in zip(exact, lost.touched, strict=True) if not gone]
    return list(lost.poses), true


HOW = ("whole", "below the knee", "both kinds")


@pytest.mark.parametrize("how", HOW)
@pytest.mark.parametrize("every", [1, 2], ids=["60 fps", "30 fps"])
def test_swapped_legs_of_a_real_runner_are_put_right(
    trial_poses: list[Pose], every: int, how: str
) -> None:
    sequence, true = spoiled(trial_poses[:480:every], TRIAL_PX_PER_M, how, 1)
    assert wrong_share([legs_of(pose) for pose in sequence], true) > 0.10
    assert wrong_share([n.legs for n in named(sequence)], true) <= 0.01


@pytest.fixture(scope="module", params=[(n, f) for n in RUNNERS for f in (30.0, 60.0)], ids=str)
def simulated(request: pytest.FixtureRequest) -> list[Pose]:
    name, fps = request.param
    view = side_view(RUNNERS[name], "right", PX_PER_M)
    return list(poses(Runner(RUNNERS[name]), view, frame_times(fps, SECONDS)))


@pytest.mark.parametrize("how", HOW)
def test_swapped_legs_of_simulated_runners_are_put_right(simulated: list[Pose], how: str) -> None:
    sequence, true = spoiled(simulated, PX_PER_M, how, 2)
    assert wrong_share([legs_of(pose) for pose in sequence], true) > 0.08
    assert wrong_share([n.legs for n in named(sequence)], true) <= 0.01


def test_a_swap_is_told_of(trial_poses: list[Pose]) -> None:
    exact = trial_poses[:120]
    swapped = swap_legs(exact, 0.15, 3)
    told = [n.swapped for n in named(list(swapped.poses))]
    assert np.mean(np.array(told) == np.array(swapped.touched)) > 0.97


@pytest.mark.parametrize("every", [1, 2], ids=["60 fps", "30 fps"])
def test_a_wrong_start_is_given_up_within_two_strides(trial_poses: list[Pose], every: int) -> None:
    """The model has the legs wrong for 0.3 s from the first frame on; a stride lasts 0.77 s."""
    exact = trial_poses[:300:every]
    begun = round(18 / every)
    wrong = [replace(p, xy_px=_crossed(p)) for p in exact[:begun]]
    told = named(wrong + exact[begun:])
    after_s = np.array([p.t_s for p in exact]) - exact[begun].t_s
    late = after_s > 2 * 0.77
    legs = [n.legs for n, one in zip(told, late, strict=True) if one]
    assert wrong_share(legs, [legs_of(p) for p, one in zip(exact, late, strict=True) if one]) == 0.0


def test_names_are_doubted_at_the_start_and_after_a_break(trial_poses: list[Pose]) -> None:
    tracks = LegTracks()
    assert not tracks.sure
    sure_s: list[float] = []
    for pose in trial_poses[:60]:
        tracks.push(pose.t_s, legs_of(pose))
        if tracks.sure:
            sure_s.append(pose.t_s)
    assert 0.15 <= sure_s[0] - trial_poses[0].t_s <= 0.4
    tracks.push(trial_poses[60].t_s + 0.4, legs_of(trial_poses[60]))
    assert not tracks.sure


@pytest.mark.parametrize(("every", "lost"), [(1, 5), (1, 9), (1, 14), (2, 3), (2, 6)])
def test_gaps_up_to_a_quarter_second_are_bridged(
    trial_poses: list[Pose], every: int, lost: int
) -> None:
    for start in range(60, 260, 40):  # the gap falls on any phase of the stride
        frames = trial_poses[::every]
        sequence = frames[start - 25 : start] + frames[start + lost : start + lost + 25]
        legs = [n.legs for n in named(sequence)]
        assert wrong_share(legs, [legs_of(pose) for pose in sequence]) == 0.0


def test_both_feet_on_one_place_are_a_collapse_and_blank(trial_poses: list[Pose]) -> None:
    tracks = LegTracks()
    collapses = 0
    for i, pose in enumerate(trial_poses[:200]):
        legs = legs_of(pose).copy()
        middle = legs[:, ANKLE:].mean(axis=0)
        apart = float(np.linalg.norm(legs[0, ANKLE] - legs[1, ANKLE]))
        struck = i > 60 and i % 30 < 4 and apart > 0.45 * tracks.leg_px
        if struck:
            legs[:, ANKLE:] = middle
        result = tracks.push(pose.t_s, legs)
        assert result.collapsed == struck
        if struck:
            collapses += 1
            assert np.isnan(result.legs[:, ANKLE:]).all()
        elif not struck:
            np.testing.assert_allclose(result.legs[:, KNEE], legs[:, KNEE])
    assert collapses >= 8


def _crossed(pose: Pose) -> Floats:
    xy = pose.xy_px.copy()
    xy[LEGS[0]], xy[LEGS[1]] = pose.xy_px[LEGS[1]], pose.xy_px[LEGS[0]]
    return xy


def test_a_fast_runner_before_a_slow_camera_is_not_taken_for_no_runner() -> None:
    way = replace(BASE, belt_mps=5.16, rate_spm=196.0, foot_deg=0.6, shank_deg=13.9, height_m=1.76)
    sequence = list(poses(Runner(way), side_view(way, px_per_m=PX_PER_M), frame_times(30.0, 15.0)))
    for seed in (61, 62, 63):
        tracks = LegTracks()
        for pose in spoil(sequence, PX_PER_M, seed):
            tracks.push(pose.t_s, legs_of(pose))
            assert not tracks.astray, (seed, pose.t_s)
