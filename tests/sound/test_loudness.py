"""How loud beat, cues and mix are, in LUFS by ITU-R BS.1770, measured by an outside library."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from station.sound.mixer import Mixer
from station.sound.tones import Voicing, make_tones
from station.values import BeatManner

pyloudnorm = pytest.importorskip("pyloudnorm", reason="pyloudnorm (of the dev extra) is missing")

FS = 48_000


def play(
    beat: bool, cues: bool, volume: float = 1.0, voicing: Voicing | None = None
) -> NDArray[np.float64]:
    """Return 12 s: 180 beats a minute, a cue about either foot each 0.667 s, or one of them."""
    mixer = Mixer(make_tones(FS, volume, voicing))
    if beat:
        mixer.set_beat(180, BeatManner(even_foot="left"))
    blocks = []
    for i in range(18):
        if cues:
            mixer.cue("ahead", "left" if i % 2 else "right")
        blocks.append(np.empty((32_000, 2), dtype=np.float32))
        mixer.render(blocks[-1])
    return np.concatenate(blocks).astype(np.float64)


def lufs(sound: NDArray[np.float64]) -> float:
    return float(pyloudnorm.Meter(FS).integrated_loudness(sound))


def test_the_meter_itself() -> None:
    """A 997 Hz sine at full scale in one channel reads -3.01 LUFS (BS.1770, from memory)."""
    sine = np.sin(2 * np.pi * 997.0 * np.arange(10 * FS) / FS)
    assert lufs(np.stack([sine, np.zeros_like(sine)], axis=1)) == pytest.approx(-3.01, abs=0.1)


def test_the_mix_is_as_loud_as_speech_and_cues_stand_out() -> None:
    beat, cues, mix = (lufs(play(*which)) for which in ((True, False), (False, True), (True, True)))
    # Neither tiring at full volume nor drowned by a belt (our own choice, not a standard's).
    assert -26.0 < beat < -16.0
    assert 0.0 < cues - beat < 6.0, "a cue stands out, and does not shout the beat down"
    # The meter leaves the pauses between cues alone out of its mean, so the mix may read softer.
    assert abs(mix - max(beat, cues)) < 3.1, "no more than the two powers together"
    print(f"beat {beat:.1f}, cues {cues:.1f}, mix {mix:.1f} LUFS")


def test_feet_told_apart_are_about_as_loud_as_alike() -> None:
    alike = lufs(play(True, False))
    assert lufs(play(True, False, voicing=Voicing(feet="pitch"))) == pytest.approx(alike, abs=1.5)
    pan = lufs(play(True, False, voicing=Voicing(feet="pan")))
    assert alike - 3.1 < pan < alike, "one ear's share is taken away, never added"


def test_half_the_amplitude_is_six_decibels() -> None:
    full = lufs(play(True, True))
    assert lufs(play(True, True, volume=0.5)) == pytest.approx(full - 6.02, abs=0.05)
    beat = lufs(play(True, False))
    softer = lufs(play(True, False, voicing=Voicing(beat_level=0.5)))
    assert softer == pytest.approx(beat - 6.02, abs=0.05)
