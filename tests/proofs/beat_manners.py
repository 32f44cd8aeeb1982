"""Prove how the beat is kept, from the recorded sound alone: start, ramps, feet, strides.

Starts a private sound server and plays through the chosen speaker: a beat that starts at 160 and
climbs to 180 by 2 % a step, eases to 172 by 1 % a step, and goes over to one beat per stride; the
feet are told apart by pitch. Every beat is held against its place reckoned here, in exact
fractions, from the rule that DEVELOPERS.md states. Prints one JSON line; exit 0 when all beats are
within a sample, 1 when not, 3 when the machine lacks what the proof needs.

    python tests/proofs/beat_manners.py [--speaker portaudio|mixer] [--seconds 8]
"""

from __future__ import annotations

# First of all: it keeps numpy to one thread, as in `station run`.
import station  # noqa: F401

# isort: split

import sys
import time
from collections.abc import Iterator
from fractions import Fraction
from math import ceil

import numpy as np
from kit.running import options, served, tell
from kit.tones_found import Beats, find_beats
from pulse import PulseServer, read_recording, recording

from station.clock import WallClock
from station.ports import Speaker
from station.sound.speaker_mixer import PygameSpeaker
from station.sound.speaker_portaudio import PortAudioSpeaker
from station.sound.tones import FOOT_PITCH_HZ, SAMPLE_RATE_HZ, Voicing, beat_tone
from station.values import BeatManner

FROM_SPM, FIRST_SPM, SECOND_SPM = 160, 180, 172
FIRST_RAMP, SECOND_RAMP = Fraction(2, 100), Fraction(1, 100)


def results() -> Iterator[dict[str, object]]:
    """Run the proof."""
    asked = options(
        "A beat that ramps, and sounds per stride.", speaker=("portaudio", "mixer"), seconds=8.0
    )
    with served() as server:
        yield prove(server, asked.speaker, asked.seconds)


def prove(server: PulseServer, kind: str, seconds: float) -> dict[str, object]:
    """Play, record and judge."""
    feet = Voicing(feet="pitch")
    speaker: Speaker = (
        PygameSpeaker(volume=1.0, voicing=feet)
        if kind == "mixer"
        else PortAudioSpeaker(volume=1.0, voicing=feet)
    )
    path = server.folder / "monitor.raw"
    with recording(server, path):
        play(speaker, seconds)
        time.sleep(0.5)
    tones = [beat_tone(SAMPLE_RATE_HZ, FOOT_PITCH_HZ[side]) for side in ("left", "right")]
    beats = find_beats(read_recording(path)[:, 0], tones)
    counts = speaker.counts()  # type: ignore[attr-defined]
    told = {"proof": "beat_manners", "speaker": speaker.name, "underflows": counts.underflows}
    return {**told, **judge(beats)}


def play(speaker: Speaker, seconds: float) -> None:
    """Keep the beat in its three manners, one after the other."""
    clock = WallClock()
    speaker.start(clock)
    try:
        parts = [
            (FIRST_SPM, BeatManner("step", float(FIRST_RAMP), FROM_SPM, "left")),
            (SECOND_SPM, BeatManner("step", float(SECOND_RAMP), None, "left")),
            (SECOND_SPM, BeatManner("stride", float(SECOND_RAMP), None, "left")),
        ]
        for rate_spm, manner in parts:
            speaker.set_beat(rate_spm, manner)
            end_s = clock.now_s() + seconds
            while clock.now_s() < end_s:
                speaker.heard()
                time.sleep(1.0 / 60.0)
    finally:
        speaker.stop()


def ramp(begin: int, end: int, most: Fraction) -> list[Fraction]:
    """Return the rates of a ramp, one for each step, the first one left out."""
    n = ceil(abs(end - begin) / (most * min(begin, end)))
    return [begin + Fraction((end - begin) * j, n) for j in range(1, n + 1)]


def judge(beats: Beats) -> dict[str, object]:
    """Compare the beats found with their places.

    How many steps each even part has is the clock's affair and read from the recording; all else
    is reckoned.
    """
    gaps = np.diff(beats.at)
    if gaps.size < 20:
        return {"holds": False, "beats": int(beats.at.size)}
    climb, ease = ramp(FROM_SPM, FIRST_SPM, FIRST_RAMP), ramp(FIRST_SPM, SECOND_SPM, SECOND_RAMP)
    fast, slow = (60 * SAMPLE_RATE_HZ / rate for rate in (FIRST_SPM, SECOND_SPM))
    strides = int((gaps > 1.5 * slow).sum())
    even = int((np.abs(gaps - fast) <= 1.0).sum()) - 1  # the climb's last step is one of them
    last = gaps.size - strides - even - 1 - len(climb) - len(ease)
    rates = [Fraction(FROM_SPM), *climb, *[Fraction(FIRST_SPM)] * even, *ease]
    rates += [Fraction(SECOND_SPM)] * max(0, last) + [Fraction(SECOND_SPM, 2)] * strides
    places = [Fraction(0)]
    for rate in rates:
        places.append(places[-1] + 60 * SAMPLE_RATE_HZ / rate)
    worst = float("inf")
    if len(places) == beats.at.size:
        off = np.array([float(int(at) - place) for at, place in zip(beats.at, places, strict=True)])
        worst = max(float(np.ptp(off[beats.tone == tone])) / 2.0 for tone in (0, 1))
    stepping = beats.tone[: beats.at.size - strides]
    turns = bool(np.all(np.diff(stepping) != 0) and len(set(beats.tone[-strides:].tolist())) == 1)
    steps = gaps[: gaps.size - strides]
    steepest = float(np.abs(steps[1:] / steps[:-1] - 1.0).max())
    return {
        "holds": bool(worst <= 1.0 and turns and strides > 3 and steepest <= 0.02 + 1e-4),
        "beats": int(beats.at.size),
        "ramp_steps": [len(climb), len(ease)],
        "strides": strides,
        "worst_samples": round(worst, 3),
        "steepest_percent": round(100.0 * steepest, 3),
        "feet_alternate": turns,
        "least_likeness": round(float(beats.likeness.min()), 4),
    }


if __name__ == "__main__":
    sys.exit(tell("beat_manners", results()))
