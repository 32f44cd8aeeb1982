"""Claps with a known offset between picture and sound: found within 10 ms, or not at all."""

from __future__ import annotations

import numpy as np
import pytest

from station.measure.clap import align, clap_times, claps_seen, sounds_heard
from station.values import LANDMARK_INDEX, Pose

RATE_HZ = 48_000
TRUNK_PX = 180.0


def gap(t_s: np.ndarray, claps_s: np.ndarray, way: str) -> np.ndarray:
    """How far apart two hands are, in trunks: four ways to clap."""
    apart = np.full_like(t_s, 1.6)
    for clap_s in claps_s:
        before, after = np.maximum(0.0, clap_s - t_s), np.maximum(0.0, t_s - clap_s)
        if way == "bounce":
            one = 0.25 + 8.0 * before + 5.0 * after
        elif way == "short rest":  # most often between two pictures
            closing = 1.0 - (1.0 - np.minimum(1.0, before / 0.18)) ** 1.5
            one = 0.12 + 1.38 * np.maximum(closing, np.minimum(1.0, (after - 0.03) / 0.25))
        elif way == "rest":
            one = 0.25 + 8.0 * before + 5.0 * np.maximum(0.0, after - 0.06)
        else:  # the hands go ever faster until they meet
            one = 0.25 + 1.35 * (1.0 - (1.0 - np.minimum(1.0, before / 0.25)) ** 2) + 4.5 * after
        apart = np.minimum(apart, one)
    return apart


def poses(t_s: np.ndarray, gaps: np.ndarray, rng: np.random.Generator) -> list[Pose]:
    """Somebody who faces the camera, with a pose model's noise of a pixel and more."""
    made = []
    for index, (time_s, apart) in enumerate(zip(t_s, gaps, strict=True)):
        xy_px = np.full((33, 2), 400.0)
        for side, sign in (("left", 1.0), ("right", -1.0)):
            xy_px[LANDMARK_INDEX[f"{side}_shoulder"]] = (600.0 + 60.0 * sign, 200.0)
            xy_px[LANDMARK_INDEX[f"{side}_hip"]] = (600.0 + 60.0 * sign, 200.0 + TRUNK_PX)
            wrist_px = (600.0 + 0.5 * sign * apart * TRUNK_PX, 260.0)
            xy_px[LANDMARK_INDEX[f"{side}_wrist"]] = wrist_px
        xy_px += rng.normal(0.0, 2.5, (33, 2))
        made.append(Pose(time_s, index, xy_px, np.ones(33), 1280, 720))
    return made


def sound(claps_s: np.ndarray, seconds: float, rng: np.random.Generator) -> np.ndarray:
    """Claps in a room that hums and hisses."""
    t_s = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    made = 0.003 * rng.normal(size=len(t_s)) + 0.02 * np.sin(2.0 * np.pi * 100.0 * t_s)
    for clap_s in claps_s:
        at = int(np.searchsorted(t_s, clap_s))
        after = t_s[at : at + 4800] - clap_s
        rise = np.minimum(1.0, after / 5e-4) * np.exp(-after / 0.012)
        made[at : at + 4800] += rise * rng.normal(0.0, 0.25, len(rise))
    return made


@pytest.mark.parametrize("way", ["bounce", "short rest", "rest", "faster"])
@pytest.mark.parametrize(("fps", "late_s"), [(60.0, 0.037), (60.0, -0.012), (30.0, 0.08)])
def test_a_known_offset_is_found_within_ten_milliseconds(
    fps: float, late_s: float, way: str
) -> None:
    rng = np.random.default_rng(5)
    claps_s = 1.0 + 0.9 * np.arange(5) + rng.uniform(0.0, 0.1, 5)
    t_s = np.arange(0.0, 6.0, 1.0 / fps)
    seen_s = claps_seen(poses(t_s + late_s, gap(t_s, claps_s, way), rng))
    heard_s = sounds_heard(sound(claps_s, 6.0, rng), RATE_HZ)
    assert np.array(heard_s) == pytest.approx(claps_s, abs=1e-3)
    assert len(seen_s) == 5
    found = align(seen_s, heard_s)
    assert found is not None
    assert found.claps == 5
    assert found.late_s == pytest.approx(late_s, abs=0.010)


def test_one_clap_is_enough() -> None:
    rng = np.random.default_rng(7)
    t_s = np.arange(0.0, 3.0, 1.0 / 60.0)
    seen_s = claps_seen(poses(t_s + 0.025, gap(t_s, np.array([1.513]), "bounce"), rng))
    found = align(seen_s, sounds_heard(sound(np.array([1.513]), 3.0, rng), RATE_HZ))
    assert found is not None
    assert (found.claps, found.spread_s) == (1, 0.0)
    assert found.late_s == pytest.approx(0.025, abs=0.010)


def test_sounds_of_something_else_do_not_mislead() -> None:
    found = align((1.03, 2.04, 3.03), (0.75, 1.0, 1.9, 2.0, 3.0, 3.3))
    assert found is not None
    assert found.late_s == pytest.approx(0.03)
    assert found.claps == 3


def test_the_way_of_the_sound_is_taken_off() -> None:
    found = align((1.0,), (1.01,), distance_m=3.43)
    assert found is not None
    assert found.late_s == pytest.approx(0.0, abs=1e-6)


def test_whoever_only_swings_the_arms_does_not_clap() -> None:
    t_s = np.arange(0.0, 6.0, 1.0 / 60.0)
    assert clap_times(t_s, 0.9 + 0.3 * np.sin(2.0 * np.pi * 1.4 * t_s)) == ()
    assert clap_times(t_s, np.full_like(t_s, np.nan)) == ()
    assert clap_times(t_s[:0], t_s[:0]) == ()


@pytest.mark.parametrize("samples", [np.zeros(96_000), np.zeros(10), np.zeros(0)])
def test_silence_is_no_clap(samples: np.ndarray) -> None:
    assert sounds_heard(samples, RATE_HZ) == ()


def test_what_was_not_seen_or_not_heard_gives_nothing() -> None:
    assert align((), (1.0,)) is None
    assert align((1.0,), ()) is None
    assert align((1.0,), (3.0,)) is None


def test_a_rest_that_no_picture_shows_does_not_make_claps_late() -> None:
    t_s = np.arange(0.0, 6.0, 1.0 / 30.0)
    for seed in range(6):
        claps_s = 1.0 + 0.9 * np.arange(5) + np.random.default_rng(seed).uniform(0.0, 0.1, 5)
        found_s = np.array(clap_times(t_s, gap(t_s, claps_s, "short rest")))
        assert abs(float(np.median(found_s - claps_s))) <= 0.008
