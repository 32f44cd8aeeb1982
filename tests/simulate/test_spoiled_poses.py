"""Spoiling poses: noise, swapped legs, lost and blanked frames."""

from __future__ import annotations

import numpy as np
import pytest

from station.simulate import trace
from station.simulate.gait import Runner
from station.simulate.parameters import GaitParameters
from station.values import LANDMARK_INDEX, Pose

WAY = GaitParameters()


@pytest.fixture(scope="module")
def clean() -> list[Pose]:
    return list(trace.poses(Runner(WAY), trace.side_view(WAY), trace.frame_times(60.0, 20.0)))


def bursts(touched: tuple[bool, ...]) -> list[int]:
    edges = np.flatnonzero(np.diff([0, *map(int, touched), 0]))
    return list(edges[1::2] - edges[::2])


def test_frames_come_at_their_times(clean: list[Pose]) -> None:
    assert len(clean) == 1200
    assert [pose.index for pose in clean] == list(range(1200))
    assert clean[60].t_s == pytest.approx(1.0)
    uneven = trace.frame_times(120.0, 2.0, uneven=0.4, seed=3)
    gaps = np.diff(uneven)
    assert gaps.min() > 0.0
    assert gaps.std() > 0.001
    with pytest.raises(ValueError, match="24 to 240"):
        trace.frame_times(10.0, 1.0)


def test_noise_has_the_size_asked_for(clean: list[Pose]) -> None:
    noisy = list(trace.add_noise(clean, 0.010, 360.0, seed=5))
    knee = LANDMARK_INDEX["left_knee"]
    off = np.array([b.xy_px[knee] - a.xy_px[knee] for a, b in zip(clean, noisy, strict=True)])
    assert off.std(axis=0) == pytest.approx([3.6, 3.6], rel=0.08)
    again = list(trace.add_noise(clean, 0.010, 360.0, seed=5))
    assert np.array_equal(again[7].xy_px, noisy[7].xy_px, equal_nan=True)


@pytest.mark.parametrize("share", [0.03, 0.12, 0.4])
def test_swaps_in_bursts_and_says_where(clean: list[Pose], share: float) -> None:
    spoiled = trace.swap_legs(clean, share, seed=2)
    assert np.mean(spoiled.touched) == pytest.approx(share, abs=0.25 * share + 0.01)
    if share < 0.2:
        assert max(bursts(spoiled.touched)) <= 8  # two bursts may meet
        assert 1.5 < np.mean(bursts(spoiled.touched)) < 3.5
    left, right = LANDMARK_INDEX["left_ankle"], LANDMARK_INDEX["right_ankle"]
    for before, after, hit in zip(clean, spoiled.poses, spoiled.touched, strict=True):
        assert np.array_equal(after.xy_px[left], before.xy_px[right if hit else left])
        assert np.array_equal(after.xy_px[0], before.xy_px[0])


def test_part_of_the_leg_may_be_swapped(clean: list[Pose]) -> None:
    spoiled = trace.swap_legs(clean, 0.2, parts=trace.LOWER_LEG)
    k = spoiled.touched.index(True)
    for name in ("left_knee", "left_hip"):
        i = LANDMARK_INDEX[name]
        assert np.array_equal(spoiled.poses[k].xy_px[i], clean[k].xy_px[i])
    a, b = LANDMARK_INDEX["left_heel"], LANDMARK_INDEX["right_heel"]
    assert np.array_equal(spoiled.poses[k].xy_px[a], clean[k].xy_px[b])


def test_lost_and_blanked(clean: list[Pose]) -> None:
    lost = trace.lose(clean, 0.1, seed=4)
    assert len(lost.poses) + sum(lost.touched) == len(clean)
    assert np.mean(lost.touched) == pytest.approx(0.1, abs=0.03)
    gone = trace.blank(clean, [(2.0, 3.0)])
    assert sum(gone.touched) == 60
    assert all(p.found != hit for p, hit in zip(gone.poses, gone.touched, strict=True))
    assert not trace.swap_legs(clean, 0.0).touched.count(True)
    with pytest.raises(ValueError, match=r"0 to 0\.5"):
        trace.swap_legs(clean, 0.9)
