"""Beat, cue and a cue that fades out for it never come nearer to full scale than 1 dB."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from numpy.lib.stride_tricks import sliding_window_view
from scipy.signal import resample_poly

from station.errors import BadInput
from station.sound.mixer import Mixer
from station.sound.tones import HEADROOM_DB, Tones, Voicing, make_tones
from station.values import BeatFeet, BeatManner

FULL = 10.0 ** (-HEADROOM_DB / 20.0)
FEET: tuple[BeatFeet, ...] = ("alike", "pitch", "pan")


def loudest_cues(tones: Tones) -> float:
    """Return the most that any cue reaches, alone or over any other one cut short anywhere.

    The sizes are summed without their signs, so this holds for either ear of any side as well.
    """
    cues = {kind: np.abs(tone[:, 0]) for (kind, side), tone in tones.cues.items() if side is None}
    peak, fade = max(float(cue.max()) for cue in cues.values()), tones.fade[:, 0]
    for old, new in product(cues.values(), repeat=2):
        # Every eighth sample to be cut at: 6000 a second, far above any partial.
        fading = sliding_window_view(old, fade.size)[::8] * fade
        peak = max(peak, float((fading + new[: fade.size]).max()))
    return peak


def test_no_two_cues_and_beat_clip_wherever_they_meet() -> None:
    cues = loudest_cues(make_tones())
    for feet in FEET:
        tones = make_tones(voicing=Voicing(feet=feet))
        beat = max(float(np.abs(tone).max()) for tone in tones.beats.values())
        # Wherever the two meet, the sum of both peaks is the most that they can reach together.
        assert 0.8 * FULL < cues + beat <= FULL


@pytest.mark.parametrize("feet", FEET)
def test_between_the_samples_the_peak_keeps_the_headroom_too(feet: BeatFeet) -> None:
    """True peak by fourfold oversampling (ITU-R BS.1770, annex 2; from memory)."""
    mixer = Mixer(make_tones(voicing=Voicing(feet=feet)))
    mixer.set_beat(211, BeatManner(even_foot="right"))
    out = np.empty((48_000 * 12, 2), dtype=np.float32)
    keys = sorted(mixer.tones.cues, key=str)
    for i, at in enumerate(range(0, len(out), 9_600)):
        mixer.cue(*keys[i % len(keys)])
        mixer.render(out[at : at + 9_600])
    assert float(np.abs(resample_poly(out.astype(np.float64), 4, 1, axis=0)).max()) <= FULL
    assert float(np.abs(out).max()) > 0.6 * FULL


def test_levels_set_beat_and_cues_apart() -> None:
    full, set_apart = make_tones(), make_tones(volume=0.5, voicing=Voicing(0.5, 0.25))
    np.testing.assert_allclose(set_apart.beat, 0.25 * full.beat, atol=1e-7)
    for side, tone in full.beats.items():
        np.testing.assert_allclose(set_apart.beats[side], 0.25 * tone, atol=1e-7)
    for key, tone in full.cues.items():
        np.testing.assert_allclose(set_apart.cues[key], 0.125 * tone, atol=1e-7)


@pytest.mark.parametrize(
    ("volume", "voicing", "name"),
    [
        (1.1, Voicing(), "volume is 1.1"),
        (float("nan"), Voicing(), "volume"),
        (0.5, Voicing(beat_level=-0.1), "beat level is -0.1"),
        (0.5, Voicing(cue_level=2.0), "cue level is 2"),
    ],
)
def test_a_level_that_could_clip_is_refused(volume: float, voicing: Voicing, name: str) -> None:
    with pytest.raises(BadInput, match=f"{name}.*allowed is 0 to 1"):
        make_tones(volume=volume, voicing=voicing)
