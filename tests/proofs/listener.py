"""Prove that who listens keeps the target: the simulated runner's true steps beside beat and cues.

A whole session on stream time: the simulated runner is drawn, seen by the real pose model and
measured; beat and cues are rendered to samples, and the runner hears them. The step rate is read
from the runner's exact truth alone, from the first cue in the rendered sound to the last, and so
that left and right, which differ, weigh alike.

    python tests/proofs/listener.py [--seconds 60] [--rate 176] [--fps 30]

Prints one JSON line; exits 1 where the mean or any window of 10 s is off by more than 1 step per
minute.
"""

from __future__ import annotations

# First of all: it keeps numpy to one thread, as in `station run`.
import station  # noqa: F401

# isort: split

import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from unittest import mock

import numpy as np
from kit.beats import ahead_tone, beat_tones
from kit.pictures import HEIGHT, WIDTH
from kit.running import options, tell
from kit.session import run_session
from kit.tones_found import CUE_BAND, RATE_HZ, find, find_beats

import station.commands.perform as performing
from station.simulate.gait import Runner
from station.simulate.listening import Listening
from station.simulate.parameters import GaitParameters
from station.simulate.picture import demo_view
from station.simulate.source import SimulatedSource
from station.sound.speaker_silent import StreamSpeaker

MOST_OFF_SPM = 1.0
SETTLES_S = 10.0
"""A runner needs some steps to find a beat, as people do."""
WINDOW_S = 10.0
OWN_SPM = 164.0


def results() -> Iterator[dict[str, object]]:
    """Run the session and judge the truth."""
    asked = options("The listening runner's true step rate.", seconds=60.0, rate=176.0, fps=30.0)
    way = GaitParameters(rate_spm=OWN_SPM, shank_deg=12.0)
    source = SimulatedSource(
        Runner(way, Listening()), demo_view(), WIDTH, HEIGHT, asked.fps, asked.seconds + 2.0
    )
    speaker = StreamSpeaker(record=True)

    def opened(clock: object, *_: object) -> StreamSpeaker:
        speaker.start(clock)  # type: ignore[arg-type]
        return speaker

    # The session opens its speaker by this one function: here it gets one that keeps its sound.
    with (
        tempfile.TemporaryDirectory() as name,
        mock.patch.object(performing, "open_speaker", opened),
    ):
        run_session(source, Path(name), asked.rate, asked.seconds, "every step", 4.0, fast=True)
    sound = speaker.recorded()
    beats = find_beats(sound[:, 0], beat_tones())
    cues_s = find(sound.mean(axis=1), ahead_tone(), CUE_BAND, least=0.6).at / RATE_HZ
    contacts_s = np.array([step.t_contact_s for step in source.truth()])
    begin_s = max(SETTLES_S, float(cues_s[0])) if cues_s.size else np.inf
    steps_s = contacts_s[(contacts_s >= begin_s) & (contacts_s <= cues_s.max(initial=0.0))]
    windows = rates_spm(steps_s)
    off = float(np.abs(windows - asked.rate).max()) if windows.size else None
    mean = whole_spm(steps_s)
    yield {
        "proof": "listener",
        "holds": off is not None
        and mean is not None
        and off <= MOST_OFF_SPM
        and abs(mean - asked.rate) <= MOST_OFF_SPM,
        "target_spm": asked.rate,
        "own_spm": OWN_SPM,
        "seconds": asked.seconds,
        "beats": int(beats.at.size),
        "cues": int(cues_s.size),
        "cues_from_to_s": [round(float(cues_s[0]), 2), round(float(cues_s[-1]), 2)]
        if cues_s.size
        else None,
        "steps": int(steps_s.size),
        "mean_spm": None if mean is None else round(mean, 3),
        "worst_window_off_spm": None if off is None else round(off, 3),
        "fps": asked.fps,
    }


def whole_spm(steps_s: np.ndarray) -> float | None:
    """Return the mean rate over whole strides; None: too few steps."""
    n = (steps_s.size - 1) // 2 * 2
    return float(60.0 * n / (steps_s[n] - steps_s[0])) if n >= 2 else None


def rates_spm(steps_s: np.ndarray) -> np.ndarray:
    """Return the mean rate of every window of about `WINDOW_S` that begins with a step."""
    told = []
    for i, t_s in enumerate(steps_s):
        if steps_s[-1] - t_s >= WINDOW_S:
            mine = steps_s[i:][steps_s[i:] <= t_s + WINDOW_S]
            told.append(whole_spm(mine))
    return np.array([rate for rate in told if rate is not None])


if __name__ == "__main__":
    sys.exit(tell("listener", results()))
