"""How loud the ticks are above the room, in made recordings."""

from __future__ import annotations

import numpy as np
import pytest

from station.sound.level import above_room_db
from station.sound.tones import SAMPLE_RATE_HZ, beat_tone


def recorded(tick: float, room: float, hum: float = 0.0) -> np.ndarray:
    """Four ticks in six seconds, in a noisy room with a humming treadmill."""
    count = 6 * SAMPLE_RATE_HZ
    t = np.arange(count) / SAMPLE_RATE_HZ
    sound = np.random.default_rng(1).normal(0.0, room, count) + hum * np.sin(2 * np.pi * 50.0 * t)
    tone = beat_tone(SAMPLE_RATE_HZ)
    tone = tone / np.abs(tone).max()
    for n in range(4):
        at = round((0.5 + 1.3 * n) * SAMPLE_RATE_HZ)
        sound[at : at + tone.size] += tick * tone
    return sound.astype(np.float32)


def test_twice_the_tick_is_six_decibels_more() -> None:
    soft, loud = (above_room_db(recorded(tick, 0.001)) for tick in (0.1, 0.2))
    assert soft is not None
    assert loud is not None
    assert loud - soft == pytest.approx(6.0, abs=0.3)
    assert soft > 20.0


def test_a_louder_room_takes_as_much_away() -> None:
    quiet, noisy = (above_room_db(recorded(0.2, room)) for room in (0.001, 0.002))
    assert quiet is not None
    assert noisy is not None
    assert quiet - noisy == pytest.approx(6.0, abs=0.5)


def test_a_treadmills_hum_counts_little() -> None:
    without, hummed = (above_room_db(recorded(0.2, 0.002, hum)) for hum in (0.0, 0.02))
    assert without is not None
    assert hummed is not None
    assert without - hummed < 3.0


def test_noise_alone_does_not_stand_out() -> None:
    found = above_room_db(recorded(0.0, 0.01))
    assert found is not None
    assert found < 3.0


def test_too_little_or_silence_tells_nothing() -> None:
    assert above_room_db(np.zeros(1000, np.float32)) is None
    assert above_room_db(np.zeros(6 * SAMPLE_RATE_HZ, np.float32)) is None
