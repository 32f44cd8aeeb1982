"""No sound of ours is an alarm: neither by how a pulse is built nor by the rhythm of pulses.

IEC 60601-1-8: a pulse has its fundamental at 150 to 1000 Hz and at least four harmonics up to
4000 Hz within 15 dB (second hand, three pages; shared check values, section 12). From memory: a
burst of high priority has ten pulses in groups of 3, 2, 3, 2, of medium priority three, of low
priority one or two; pulses last 75 to 250 ms, with 50 to 250 ms between two of a group.
ISO 8201 (from memory): half a second on, half a second off, three times, then 1.5 s off.
"""

from __future__ import annotations

from itertools import pairwise, product
from typing import get_args

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d
from scipy.signal import find_peaks

from station.settings.bay import LEAST_CUE_GAP_S
from station.sound.mixer import Mixer
from station.sound.tones import FOOT_PITCH_HZ, Voicing, beat_tone, cue_tone, make_tones
from station.values import BeatEvery, BeatFeet, BeatManner, CueKind

FS = 48_000
KINDS = get_args(CueKind)
Floats = NDArray[np.float64]
Pulse = tuple[float, float]
"""Begin and end, seconds."""


def pulses(sound: Floats) -> list[Pulse]:
    """Return where the sound is within 20 dB of its loudest; 10 ms of less part two pulses."""
    power = uniform_filter1d(sound.astype(np.float64) ** 2, round(0.006 * FS))
    on = power > 0.01 * power.max()
    edges = np.flatnonzero(np.diff(np.concatenate([[False], on, [False]]).astype(int)))
    found: list[Pulse] = []
    for begin, end in edges.reshape(-1, 2) / FS:
        if found and begin - found[-1][1] < 0.010:
            found[-1] = (found[-1][0], end)
        else:
            found.append((begin, end))
    return found


def groups(found: list[Pulse]) -> list[int]:
    """Return how many pulses of an alarm's length follow each other at an alarm's pace."""
    counts: list[int] = []
    last: Pulse | None = None
    for begin, end in found:
        if not 0.06 <= end - begin <= 0.30:
            last = None
            continue
        if last is not None and 0.03 <= begin - last[1] <= 0.30:
            counts[-1] += 1
        else:
            counts.append(1)
        last = (begin, end)
    return counts


def medical_rhythm(sound: Floats) -> str | None:
    counts = groups(pulses(sound))
    if any(counts[i : i + 4] == [3, 2, 3, 2] for i in range(len(counts))):
        return "high"
    return "medium" if 3 in counts else None


def evacuation_rhythm(sound: Floats) -> bool:
    found = pulses(sound)
    on = [abs(end - begin - 0.5) <= 0.1 for begin, end in found]
    off = [abs(two[0] - one[1] - 0.5) <= 0.1 for one, two in pairwise(found)]
    return any(all(on[i : i + 3]) and all(off[i : i + 2]) for i in range(len(found) - 2))


def medical_pulse(sound: Floats) -> bool:
    """Whether any 50 ms of it are built like a pulse: four harmonics of 150 to 1000 Hz."""
    for at in range(0, max(1, sound.size - 2400), 960):
        part = sound[at : at + 2400]
        if np.abs(part).max() < 0.05 * np.abs(sound).max():
            continue
        spectrum = np.abs(np.fft.rfft(part * np.hanning(part.size), 1 << 15))
        hz = np.arange(spectrum.size) * FS / (1 << 15)
        height = spectrum.max() * 10 ** (-15 / 20)
        peaks, _ = find_peaks(spectrum, height=height, prominence=0.5 * height)
        at_hz = [f for f in hz[peaks] if 150.0 <= f <= 4000.0]
        for base in at_hz:
            whole = {round(f / base) for f in at_hz if abs(f / base - round(f / base)) < 0.04}
            if base <= 1000.0 and len(whole) >= 4:
                return True
    return False


def tone(seconds: float, harmonics: int = 5) -> Floats:
    t = np.arange(round(seconds * FS)) / FS
    made = sum(np.sin(2 * np.pi * 440.0 * k * t) for k in range(1, harmonics + 1))
    return np.asarray(made) * np.minimum(1.0, np.minimum(t, t[::-1]) / 0.01)


def chain(*on_off_s: tuple[float, float], harmonics: int = 5) -> Floats:
    return np.concatenate(
        [x for on, off in on_off_s for x in (tone(on, harmonics), np.zeros(round(off * FS)))]
    )


HIGH = [(0.1, 0.1), (0.1, 0.1), (0.1, 0.4), (0.1, 0.1), (0.1, 0.5)]
ALARMS = {
    "high": chain(*HIGH, *HIGH),
    "medium": chain((0.2, 0.2), (0.2, 0.2), (0.2, 1.0)),
    "evacuation": chain((0.5, 0.5), (0.5, 0.5), (0.5, 1.5)),
}


def test_the_measures_know_the_alarms() -> None:
    assert medical_rhythm(ALARMS["high"]) == "high"
    assert medical_rhythm(ALARMS["medium"]) == "medium"
    assert evacuation_rhythm(ALARMS["evacuation"])
    assert not evacuation_rhythm(ALARMS["medium"])
    assert medical_rhythm(ALARMS["evacuation"]) is None
    assert all(medical_pulse(alarm) for alarm in ALARMS.values())
    assert not medical_pulse(chain((0.5, 0.5), harmonics=3))


@pytest.mark.parametrize("kind", KINDS)
def test_no_cue_is_built_like_an_alarm_nor_has_its_rhythm(kind: CueKind) -> None:
    cue = np.concatenate([cue_tone(kind), np.zeros(FS)])
    assert len(pulses(cue)) == 1, "one unbroken sound, no burst"
    assert not medical_pulse(cue)
    assert medical_rhythm(cue) is None
    assert not evacuation_rhythm(cue)


def test_no_tick_is_built_like_an_alarm() -> None:
    for pitch_hz in (1250.0, *FOOT_PITCH_HZ.values()):
        assert pitch_hz > 1000.0, "above an alarm's fundamental"
        assert not medical_pulse(np.concatenate([beat_tone(FS, pitch_hz), np.zeros(FS // 10)]))


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "praise"])
@pytest.mark.parametrize("gap_s", [LEAST_CUE_GAP_S, 0.6, 0.75, 1.0, 1.5])
def test_cues_as_close_as_they_may_be_have_no_alarms_rhythm(kind: CueKind, gap_s: float) -> None:
    """Three of a kind in a row, then silence; praise comes once in 20 s at most."""
    cue = cue_tone(kind)
    every = max(round(gap_s * FS), cue.size)
    sound = np.zeros(3 * every + 2 * FS)
    for i in range(3):
        sound[i * every : i * every + cue.size] += cue
    assert medical_rhythm(sound) is None
    assert not evacuation_rhythm(sound)


@pytest.mark.parametrize(
    ("rate_spm", "every", "feet"),
    list(product([60.0, 140.0, 180.0, 260.0], ["step", "stride"], ["alike", "pitch", "pan"])),
)
def test_no_beat_with_cues_over_it_has_an_alarms_rhythm(
    rate_spm: float, every: BeatEvery, feet: BeatFeet
) -> None:
    mixer = Mixer(make_tones(FS, 1.0, Voicing(feet=feet)))
    mixer.set_beat(rate_spm, BeatManner(every, even_foot="left"))
    blocks = []
    for i in range(8):
        if i in (2, 3, 4):
            mixer.cue("ahead", "left")
        blocks.append(np.empty((round(0.667 * FS), 2), dtype=np.float32))
        mixer.render(blocks[-1])
    for ear in np.concatenate(blocks).T.astype(np.float64):
        assert medical_rhythm(ear) is None
        assert not evacuation_rhythm(ear)
