"""Prove the clap's alignment on a real audio device: real input, real pixels, a known offset.

A program of its own plays claps (bursts of noise, at uneven times) into a private sound server's
null sink, whose monitor is the system's microphone. The station's own microphone records them by
the station's own clock; an independent recorder that never saw that clock says when each of them
sounded (see `kit/tape.py`). Then a drawn figure's hands meet at just those instants, the pictures
are timed late by a known amount, and the station looks and judges as it does at set-up. The sound
is real time; the pictures are worked through in order afterwards, so that a busy machine drops
none. (`clap.py --way live` does both at once and needs a machine with time to spare.)

    python tests/proofs/clap_live.py [--seconds 8] [--fps 60 30] [--late 0.04]

Prints one JSON line a picture rate; exits 1 where the offset found is more than 10 ms off the known
one, 3 where the recorder itself cannot tell the time to 10 ms, or something needed is missing.
"""

from __future__ import annotations

import station  # noqa: F401

# isort: split

import math
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from clap import MOST_OFF_S, Clapper, Late
from kit.running import options, served, tell
from kit.tape import marker_tone, read_tape, taping
from numpy.typing import NDArray
from pulse import PulseServer, find_onsets

from station.clock import Clock, StreamClock, WallClock
from station.errors import DeviceTrouble
from station.live import LockStepFeed
from station.live.clap import measure_clap, sounds_of
from station.see.pose_model import MediapipePose
from station.simulate.picture import demo_view
from station.simulate.source import SimulatedSource
from station.sound.microphone import PortAudioMicrophone
from station.sound.round_trip import Recording
from station.sound.tones import SAMPLE_RATE_HZ
from station.values import Floats

FIRST_S, APART_S, UNEVEN_S = 1.6, 0.9, 0.1
AFTER_S = 1.0
MOST_UNSURE_S = 0.010
"""The judge's own clock must be known better than this."""
LEAST_CLAPS = 4


def clap_tone() -> NDArray[np.float32]:
    """Return a clap, (n,): noise that rises in half a millisecond and dies away."""
    t_s = np.arange(round(0.06 * SAMPLE_RATE_HZ)) / SAMPLE_RATE_HZ
    rise = np.minimum(1.0, t_s / 5e-4) * np.exp(-t_s / 0.012)
    return (rise * np.random.default_rng(3).uniform(-0.6, 0.6, t_s.size)).astype(np.float32)


def claps(seconds: float) -> NDArray[np.float32]:
    """Return what is played, (n, 2): hiss, and claps in it."""
    rng = np.random.default_rng(4)
    sound = rng.normal(0.0, 5e-4, round(seconds * SAMPLE_RATE_HZ)).astype(np.float32)
    at_s, tone = FIRST_S, clap_tone()
    while at_s < seconds - AFTER_S:
        at = round((at_s + rng.uniform(0.0, UNEVEN_S)) * SAMPLE_RATE_HZ)
        sound[at : at + tone.size] += tone
        at_s += APART_S
    return np.repeat(sound[:, np.newaxis], 2, axis=1)


@dataclass(frozen=True)
class Heard:
    """One recording of the station's microphone, and what the independent recorder says."""

    recording: Recording
    device: str
    claps_s: Floats
    """When each clap sounded, session seconds."""
    unsure_s: float
    """How far apart the bounds of the recorder's own time are; infinite: its time is wrong."""


def heard(server: PulseServer, folder: Path, seconds: float) -> Heard:
    """Play claps in real time; record them by the station's microphone and independently."""
    played = folder / "claps.raw"
    claps(seconds).tofile(played)
    clock = WallClock()
    microphone = PortAudioMicrophone()
    with taping(server.env, folder / "tape"):
        microphone.start(clock)
        try:
            subprocess.run(
                [
                    "pacat", "--raw", "--format=float32le", f"--rate={SAMPLE_RATE_HZ}",
                    "--channels=2", "--latency-msec=100", str(played),
                ],
                check=True, timeout=seconds + 60.0,
            )  # fmt: skip
        finally:
            ahead_s = clock.now_s() - time.monotonic()
            recording = microphone.stop()
    tape = read_tape(folder / "tape")
    sound = tape.sound[:, 0]
    onsets, _ = find_onsets(sound, clap_tone(), SAMPLE_RATE_HZ)
    marks, _ = find_onsets(sound, marker_tone(), SAMPLE_RATE_HZ, 0.6, 8_000.0)
    early, of = tape.too_early(marks)
    unsure_s = tape.block_s() if 4 * early < of else math.inf
    return Heard(recording, microphone.name, tape.times_s(onsets) + ahead_s, unsure_s)


class Played:
    """A microphone that gives again what the real one recorded."""

    def __init__(self, recording: Recording, name: str) -> None:
        self.name = name
        self._recording = recording

    def start(self, clock: Clock) -> None: ...

    def stop(self) -> Recording:
        return self._recording


def judged(one: Heard, fps: float, late_s: float) -> dict[str, Any]:
    """Let the hands meet when the claps sounded, and see which offset the station finds."""
    clapper, view = Clapper(), demo_view(1280, 720, "right")
    clapper.claps_s = tuple(float(t_s) for t_s in one.claps_s)
    source = Late(SimulatedSource(clapper, view, 1280, 720, fps, name="clapper"), late_s)
    clock = StreamClock()
    feed = LockStepFeed(source, MediapipePose(1), clock)  # type: ignore[arg-type]
    feed.start(clock)
    try:
        microphone = Played(one.recording, one.device)
        found = measure_clap(feed, microphone, clock, float(one.claps_s[-1]) + AFTER_S)
    finally:
        feed.stop()
    by_ear_s = sounds_of(one.recording)
    ear_s = [min((h - t for h in by_ear_s), key=abs) for t in one.claps_s]
    off_s = found.late_s - late_s
    return {
        "proof": "clap_live", "device": one.device, "fps": fps,
        "late_ms": round(1000.0 * late_s, 1), "found_ms": round(1000.0 * found.late_s, 1),
        "off_ms": round(1000.0 * off_s, 1), "spread_ms": round(1000.0 * found.spread_s, 1),
        "claps": found.claps, "played": len(one.claps_s),
        "sound_off_ms": round(1000.0 * float(np.median(ear_s)), 1),
        "judge_unsure_ms": round(1000.0 * one.unsure_s, 1),
        "holds": abs(off_s) <= MOST_OFF_S and found.claps >= LEAST_CLAPS,
    }  # fmt: skip


def results() -> Iterator[dict[str, Any]]:
    """Run the proof."""
    asked = options(__doc__.splitlines()[0], seconds=8.0, fps=[60.0, 30.0], late=0.04)
    with served() as server, tempfile.TemporaryDirectory() as folder:
        try:
            one = heard(server, Path(folder), asked.seconds)
        except RuntimeError as fault:  # the recorder's, on a machine that is too busy for it
            raise DeviceTrouble(str(fault)) from fault
    if not len(one.claps_s) or one.unsure_s > MOST_UNSURE_S:
        raise DeviceTrouble(
            f"the judge heard {len(one.claps_s)} claps and knows its own time to "
            f"{1000.0 * one.unsure_s:.0f} ms only; the machine is too busy"
        )
    for fps in asked.fps:
        yield judged(one, fps, asked.late)


if __name__ == "__main__":
    sys.exit(tell("clap_live", results()))
