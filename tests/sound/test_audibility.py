"""Where beat and cue overlap, each is heard over the other: third-octave levels against masking."""

from __future__ import annotations

from typing import get_args

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import butter, sosfiltfilt

from station.sound.tones import BEAT_PITCH_HZ, FOOT_PITCH_HZ, beat_tone, cue_tone
from station.values import CueKind

FS = 48_000
KINDS = get_args(CueKind)
CENTRES_HZ = 1000.0 * 2.0 ** (np.arange(-10, 8) / 3.0)
FILTERS = [
    butter(3, [hz * 2 ** (-1 / 6), hz * 2 ** (1 / 6)], "bandpass", fs=FS, output="sos")
    for hz in CENTRES_HZ
]
WINDOW = round(0.020 * FS)
SPREAD_DB = 10.0
"""A sound masks each third octave above it by so much less (about what one critical band costs;
from memory)."""
STRICT_SPREAD_DB = 2.5
"""The same as it is reckoned for danger signals in noise, on the safe side (ISO 7731, from memory).
"""
COUNTS_DB = 20.0
"""Only a sound's own strong bands count as hearing it, not what its edges spill elsewhere."""
LEAST_DB = 12.0
"""Above the masked threshold; 13 dB is asked of danger signals (ISO 7731, from memory)."""

Floats = NDArray[np.float64]


def in_bands(tone: Floats) -> Floats:
    """Return the tone through each third-octave filter, (bands, n)."""
    padded = np.pad(tone, FS // 4)
    return np.stack([sosfiltfilt(f, padded)[FS // 4 : FS // 4 + tone.size] for f in FILTERS])


def levels_db(filtered: Floats, at: int) -> Floats:
    return 10.0 * np.log10((filtered[:, at : at + WINDOW] ** 2).mean(axis=1) + 1e-12)


def margin_db(sound: Floats, masker: Floats, spread_db: float = SPREAD_DB) -> float:
    """Return how far the best of a sound's strong bands stands over what the masker covers."""
    covered = masker.copy()
    for band in range(1, covered.size):
        covered[band] = max(covered[band], covered[band - 1] - spread_db)
    return float((sound - covered)[sound > sound.max() - COUNTS_DB].max())


def overlaps(kind: CueKind, pitch_hz: float, spread_db: float) -> tuple[list[float], list[float]]:
    """Return beat over cue and cue over beat, the beat at every 10 ms of the cue."""
    cue = in_bands(cue_tone(kind))
    beat = levels_db(in_bands(beat_tone(FS, pitch_hz)), 0)
    loud_db = max(levels_db(cue, at).max() for at in range(0, cue.shape[1] - WINDOW, 480))
    beat_over, cue_over = [], []
    for at in range(0, cue.shape[1] - WINDOW, 480):
        now = levels_db(cue, at)
        beat_over.append(margin_db(beat, now, spread_db))
        if now.max() > loud_db - 10.0:  # not while it swells or dies away
            cue_over.append(margin_db(now, beat, spread_db))
    return beat_over, cue_over


@pytest.mark.parametrize("pitch_hz", [BEAT_PITCH_HZ, *FOOT_PITCH_HZ.values()])
@pytest.mark.parametrize("kind", KINDS)
def test_beat_and_cue_are_heard_over_each_other(kind: CueKind, pitch_hz: float) -> None:
    beat_over, cue_over = overlaps(kind, pitch_hz, SPREAD_DB)
    assert min(beat_over) > LEAST_DB
    assert min(cue_over) > LEAST_DB
    beat_over, cue_over = overlaps(kind, pitch_hz, STRICT_SPREAD_DB)
    assert min(beat_over) > 0.0
    assert min(cue_over) > 0.0


def test_the_measure_knows_a_masked_sound() -> None:
    beat = levels_db(in_bands(beat_tone()), 0)
    assert margin_db(beat - 20.0, beat) == pytest.approx(-20.0, abs=1.0)
    # A loud tone just below the beat's pitch covers it: where cues must not be.
    t = np.arange(FS // 4) / FS
    low = levels_db(in_bands(np.sin(2 * np.pi * 1000.0 * t)), FS // 8)
    assert margin_db(beat[: beat.size - 4], low[: low.size - 4]) < LEAST_DB
