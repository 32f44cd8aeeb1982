from itertools import combinations
from typing import get_args

import numpy as np
import pytest
from scipy.signal import find_peaks

from station.sound.tones import BEAT_PEAK, BEAT_S, CUE_PEAK, beat_tone, cue_tone, make_tones
from station.values import CueKind

FS = 48_000
KINDS = get_args(CueKind)


def every_tone(fs: int = FS) -> dict[str, np.ndarray]:
    return {"beat": beat_tone(fs)} | {kind: cue_tone(kind, fs) for kind in KINDS}


@pytest.mark.parametrize("fs", [44_100, 48_000])
def test_a_tone_begins_and_ends_at_zero_without_a_step(fs: int) -> None:
    for name, tone in every_tone(fs).items():
        assert abs(tone[0]) < 1e-9, name
        assert abs(tone[-1]) < 1e-9, name
        # No step between neighbours beyond what the highest partial itself makes.
        highest_hz = 1250.0 * 2.76 if name == "beat" else 2 * 880.0
        assert np.abs(np.diff(tone)).max() <= np.abs(tone).max() * 2 * np.pi * highest_hz / fs, name


def test_levels_are_as_stated_and_leave_headroom() -> None:
    assert np.abs(beat_tone()).max() == pytest.approx(BEAT_PEAK)
    for kind in KINDS:
        assert np.abs(cue_tone(kind)).max() == pytest.approx(CUE_PEAK)
    assert BEAT_PEAK + CUE_PEAK < 1.0


def test_the_beat_is_short_and_sharp_and_the_cue_is_not() -> None:
    beat, ahead = beat_tone(), cue_tone("ahead")
    assert beat.size == round(BEAT_S * FS)
    assert np.argmax(np.abs(beat)) < 0.003 * FS
    assert 0.15 * FS <= ahead.size <= 0.20 * FS
    assert np.argmax(np.abs(ahead)) > 0.030 * FS  # a soft attack


def pitch_hz(tone: np.ndarray) -> float:
    spectrum = np.abs(np.fft.rfft(tone * np.hanning(tone.size), 1 << 16))
    return float(np.argmax(spectrum) * FS / (1 << 16))


@pytest.mark.parametrize(("kind", "rises"), [("ahead", False), ("praise", True)])
def test_glides_go_the_way_they_mean(kind: CueKind, rises: bool) -> None:
    tone = cue_tone(kind)
    third = tone.size // 3
    first, last = pitch_hz(tone[:third]), pitch_hz(tone[-third:])
    assert (last > 1.15 * first) if rises else (last < 0.85 * first)


def test_tones_are_distinct() -> None:
    def shape(tone: np.ndarray) -> np.ndarray:
        # Loudness by pitch and time: 8 slices of 50 ms up to 0.4 s, 40 Hz wide bands to 2 kHz.
        padded = np.zeros(round(0.4 * FS))
        padded[: min(tone.size, padded.size)] = tone[: padded.size]
        spectrum = np.abs(np.fft.rfft(padded.reshape(8, -1), axis=1))[:, :100]
        return (spectrum / np.linalg.norm(spectrum)).ravel()

    for (a, tone_a), (b, tone_b) in combinations(every_tone().items(), 2):
        assert shape(tone_a) @ shape(tone_b) < 0.8, (a, b)


def test_no_tone_is_built_like_a_standard_alarm() -> None:
    """IEC 60601-1-8 (2006), table 4, second hand: at least four harmonics within 15 dB."""
    for name, tone in every_tone().items():
        # A slice so short that a glide stays within a band, at the loudest place.
        middle = int(np.argmax(np.convolve(tone**2, np.ones(960), "same")))
        part = tone[max(0, middle - 1200) : middle + 1200]
        spectrum = np.abs(np.fft.rfft(part * np.hanning(part.size), 1 << 14))
        peaks, _ = find_peaks(spectrum, height=spectrum.max() * 10 ** (-15 / 20), distance=40)
        assert 1 <= len(peaks) < 4, name


def test_a_cue_about_a_foot_leans_to_its_side() -> None:
    tones = make_tones()
    power = {side: (tones.cues["ahead", side] ** 2).sum(axis=0) for side in (None, "left", "right")}
    assert power["left"][0] > 4 * power["left"][1] > 0
    assert power["right"][1] > 4 * power["right"][0] > 0
    assert power[None][0] == power[None][1]


def test_volume_is_a_factor_on_everything() -> None:
    full, half = make_tones(), make_tones(volume=0.5)
    np.testing.assert_allclose(half.beat, 0.5 * full.beat, atol=1e-7)
    for key, tone in full.cues.items():
        np.testing.assert_allclose(half.cues[key], 0.5 * tone, atol=1e-7)
    assert not make_tones(volume=0.0).beat.any()
