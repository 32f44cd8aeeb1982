"""The station's own sounds, made from sines: the beat's tick and one tone for each cue.

Levels at volume 1: the tick peaks at `BEAT_PEAK`, a cue at `CUE_PEAK`; together they stay
`HEADROOM_DB` below full scale, so a cue on top of a beat never clips. Volume and levels only
soften: none is over 1. Every tone begins and ends at zero under a
raised-cosine edge: no clicks. A cue's attack takes at least `FADE_S`, the time in which the mixer
fades out a cue that a newer one cuts short, so the two together never exceed `CUE_PEAK` either.

None is built like a standard alarm (IEC 60601-1-8: bursts of like pulses, each with a fundamental
of 150 to 1000 Hz and at least four harmonics within 15 dB; ISO 8201: three pulses of half a second;
ISO 7731: a danger signal): no bursts, two partials, gliding or single notes, none about half a
second long. The one exception is the staff call of the unattended bay, which is meant as an alarm:
it sounds alone, whatever the volume.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import get_args

import numpy as np
from numpy.typing import NDArray

from station.errors import BadInput
from station.values import BeatFeet, CueKind, Side

Samples = NDArray[np.float32]

SAMPLE_RATE_HZ = 48_000
HEADROOM_DB = 1.0
"""What the loudest sum of beat and cue leaves up to full scale."""
BEAT_PEAK = 0.52
CUE_PEAK = 0.36
BEAT_PITCH_HZ = 1250.0
FOOT_PITCH_HZ: dict[Side, float] = {"left": 1190.0, "right": 1487.5}
"""Where pitch tells the feet apart: a major third, and both above every cue."""
BEAT_S = 0.040
FADE_S = 0.005
_FAR_EAR = 0.35  # share that the other ear gets of a tone about one foot


@dataclass(frozen=True, slots=True)
class Voicing:
    """How the sounds stand to each other, beside the volume."""

    beat_level: float = 1.0
    """0 to 1, a factor on the beat's amplitude; a half is 6 dB softer."""
    cue_level: float = 1.0
    feet: BeatFeet = "alike"
    """How the beats of left and right foot are told apart; `pan` needs two loudspeakers."""


@dataclass(frozen=True, slots=True, eq=False)
class Tones:
    """Every sound ready to be mixed, volume included: (n, 2) float32, left and right."""

    sample_rate_hz: int
    beat: Samples
    """Of a foot that is not known."""
    beats: dict[Side | None, Samples]
    """By foot, all of one length; the same as `beat` where feet sound alike."""
    cues: dict[tuple[CueKind, Side | None], Samples]
    staff_call: Samples
    """One round of the staff call, played over and over."""
    fade: Samples
    """(n, 1), from 1 to 0: what a cue that is cut short is multiplied by."""


def make_tones(
    sample_rate_hz: int = SAMPLE_RATE_HZ, volume: float = 1.0, voicing: Voicing | None = None
) -> Tones:
    """Make every sound once.

    Args:
        sample_rate_hz: Of the stream they are mixed into.
        volume: 0 to 1, a factor on the amplitude of all.
        voicing: Levels of beat and cues, and how feet are told apart; None: full, and not at all.

    Returns:
        The tones; `cues` has each kind with no side (both ears alike) and with either side. Any
        beat, any cue and a cue fading out for it together stay `HEADROOM_DB` below full scale.

    Raises:
        BadInput: The volume or a level is not from 0 to 1.
    """
    voicing = voicing or Voicing()
    levels = {"volume": volume, "beat level": voicing.beat_level, "cue level": voicing.cue_level}
    for name, level in levels.items():
        if not 0.0 <= level <= 1.0:
            raise BadInput(f"the sound's {name} is {level:g}; allowed is 0 to 1")
    cues: dict[tuple[CueKind, Side | None], Samples] = {}
    for kind in get_args(CueKind):
        mono = volume * voicing.cue_level * cue_tone(kind, sample_rate_hz)
        cues[kind, None] = _to_ears(mono, 1.0, 1.0)
        cues[kind, "left"] = _to_ears(mono, 1.0, _FAR_EAR)
        cues[kind, "right"] = _to_ears(mono, _FAR_EAR, 1.0)
    level = volume * voicing.beat_level
    beat = _to_ears(level * beat_tone(sample_rate_hz), 1.0, 1.0)
    beats: dict[Side | None, Samples] = {None: beat, "left": beat, "right": beat}
    if voicing.feet == "pan":
        tick = level * beat_tone(sample_rate_hz)
        beats |= {"left": _to_ears(tick, 1.0, _FAR_EAR), "right": _to_ears(tick, _FAR_EAR, 1.0)}
    elif voicing.feet == "pitch":
        for side, pitch_hz in FOOT_PITCH_HZ.items():
            beats[side] = _to_ears(level * beat_tone(sample_rate_hz, pitch_hz), 1.0, 1.0)
    n = round(FADE_S * sample_rate_hz)
    fade = (1.0 - _rise(n))[:, np.newaxis].astype(np.float32)
    call = _to_ears(staff_call_tone(sample_rate_hz), 1.0, 1.0)
    return Tones(sample_rate_hz, beat, beats, cues, call, fade)


def beat_tone(
    sample_rate_hz: int = SAMPLE_RATE_HZ, pitch_hz: float = BEAT_PITCH_HZ
) -> NDArray[np.float64]:
    """Make the beat's tick: a dry knock on wood, (n,), peak `BEAT_PEAK`, `BEAT_S` long.

    Its two partials stand at 1 : 2.76 (a struck bar's, from memory), above the thud of shoes on
    the belt, which is low, and decay within the tick.
    """
    n = round(BEAT_S * sample_rate_hz)
    t = np.arange(n) / sample_rate_hz
    knock = np.sin(2 * np.pi * pitch_hz * t) * np.exp(-t / 0.012)
    knock += 0.45 * np.sin(2 * np.pi * 2.76 * pitch_hz * t) * np.exp(-t / 0.004)
    return _scaled(knock * _edges(n, sample_rate_hz, 0.001, 0.010), BEAT_PEAK)


def cue_tone(kind: CueKind, sample_rate_hz: int = SAMPLE_RATE_HZ) -> NDArray[np.float64]:
    """Make one cue's tone, (n,), peak `CUE_PEAK`.

    `ahead` 0.18 s, soft and falling; `praise` 0.32 s, rising; `come_forward` 0.72 s, up and back
    down; `stop_feet_aside` 0.9 s, sinking slowly from high to low; `paused` 1 s, one low, dying
    note.
    """
    fs = sample_rate_hz
    if kind == "ahead":
        path = [(0.0, 700.0), (0.18, 430.0)]
        return _scaled(_glide(path, fs, attack_s=0.045, end_s=0.09), CUE_PEAK)
    if kind == "praise":
        path = [(0.0, 440.0), (0.10, 440.0), (0.16, 660.0), (0.32, 660.0)]
        return _scaled(_glide(path, fs, attack_s=0.03, end_s=0.14), CUE_PEAK)
    if kind == "come_forward":
        path = [(0.0, 330.0), (0.32, 620.0), (0.40, 620.0), (0.72, 330.0)]
        return _scaled(_glide(path, fs, attack_s=0.05, end_s=0.10), CUE_PEAK)
    if kind == "stop_feet_aside":
        # One long slide: three notes would be a standard alarm's burst of medium priority.
        path = [(0.0, 740.0), (0.20, 740.0), (0.60, 294.0), (0.9, 294.0)]
        return _scaled(_glide(path, fs, attack_s=0.03, end_s=0.25), CUE_PEAK)
    return _scaled(_glide([(0.0, 262.0), (1.0, 262.0)], fs, attack_s=0.04, end_s=0.80), CUE_PEAK)


def staff_call_tone(sample_rate_hz: int = SAMPLE_RATE_HZ) -> NDArray[np.float64]:
    """Make one round of the staff call, (n,), 2 s: two notes in turn for 1.6 s, then silence.

    A danger signal lies mostly between 500 and 2500 Hz with some of its energy below 1500 Hz and
    stands 15 dB over the room (ISO 7731, from memory): the notes and their partials do, and the
    level is as high as the device can give, less `HEADROOM_DB`.
    """
    fs = sample_rate_hz
    notes = [_glide([(0.0, hz), (0.2, hz)], fs, attack_s=0.01, end_s=0.02) for hz in (660.0, 990.0)]
    sounding = np.concatenate([notes[i % 2] for i in range(8)])
    silent = np.zeros(2 * fs - sounding.size)
    return _scaled(np.concatenate([sounding, silent]), 10.0 ** (-HEADROOM_DB / 20.0))


def _glide(
    path: list[tuple[float, float]], fs: int, attack_s: float, end_s: float
) -> NDArray[np.float64]:
    """Sing along a path of (seconds, Hz) with two partials, in one unbroken phase."""
    t = np.arange(round(path[-1][0] * fs)) / fs
    pitch_hz = np.interp(t, [p[0] for p in path], [p[1] for p in path])
    phase = 2 * np.pi * np.cumsum(pitch_hz) / fs
    return (np.sin(phase) + 0.4 * np.sin(2 * phase)) * _edges(t.size, fs, attack_s, end_s)


def _rise(n: int) -> NDArray[np.float64]:
    """Return a raised-cosine rise from 0 to 1 in `n` samples, (n,)."""
    return 0.5 - 0.5 * np.cos(np.pi * np.arange(n) / max(n - 1, 1))


def _edges(n: int, fs: int, attack_s: float, end_s: float) -> NDArray[np.float64]:
    """Return an envelope (n,) that rises from 0 at the first sample and is 0 at the last."""
    envelope = np.ones(n)
    attack, end = round(attack_s * fs), round(end_s * fs)
    envelope[:attack] *= _rise(attack)
    envelope[n - end :] *= _rise(end)[::-1]
    return envelope


def _scaled(tone: NDArray[np.float64], peak: float) -> NDArray[np.float64]:
    return tone * (peak / float(np.abs(tone).max()))


def _to_ears(mono: NDArray[np.float64], left: float, right: float) -> Samples:
    return np.ascontiguousarray(np.stack([left * mono, right * mono], axis=1), dtype=np.float32)
