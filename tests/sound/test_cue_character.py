"""Cues cannot be taken for the beat or for each other: attack, length and pitch are measured."""

from itertools import combinations
from typing import get_args

import numpy as np
from numpy.typing import NDArray
from scipy.signal import hilbert

from station.coach.feedback import MESSAGE_S
from station.sound.tones import beat_tone, cue_tone
from station.values import CueKind

FS = 48_000
KINDS = get_args(CueKind)


def attack_s(tone: NDArray[np.float64]) -> float:
    """Return the time from 10 to 90 % of the envelope's peak."""
    envelope = np.abs(hilbert(tone))
    first = int(np.argmax(envelope >= 0.9 * envelope.max()))
    return (first - int(np.argmax(envelope >= 0.1 * envelope.max()))) / FS


def centroid_hz(tone: NDArray[np.float64]) -> float:
    power = np.abs(np.fft.rfft(tone)) ** 2
    return float(power @ np.fft.rfftfreq(tone.size, 1 / FS) / power.sum())


def test_the_beat_is_percussive_and_no_cue_is() -> None:
    beat_s = attack_s(beat_tone())
    assert beat_s < 0.002
    for kind in KINDS:
        assert attack_s(cue_tone(kind)) > 5 * beat_s, kind
        assert attack_s(cue_tone(kind)) > 0.010, kind


def test_every_cue_is_lower_and_longer_than_the_beat() -> None:
    for kind in KINDS:
        assert centroid_hz(cue_tone(kind)) < 0.6 * centroid_hz(beat_tone()), kind
        assert cue_tone(kind).size > 3 * beat_tone().size, kind


def test_no_message_outlasts_what_the_coaching_leaves_it() -> None:
    for kind in KINDS:
        assert cue_tone(kind).size / FS <= MESSAGE_S, kind


def test_no_two_cues_share_both_length_and_pitch() -> None:
    for a, b in combinations(KINDS, 2):
        one, other = cue_tone(a), cue_tone(b)
        lengths = max(one.size, other.size) / min(one.size, other.size)
        pitches = sorted((centroid_hz(one), centroid_hz(other)))
        assert lengths > 1.2 or pitches[1] > 1.2 * pitches[0], (a, b)
