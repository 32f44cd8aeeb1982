"""Prove that a killed sound server stops neither the loop nor, once it runs again, the beat.

A session runs with its beat; the sound server is killed in the middle and launched again some
seconds later. What its output plays is recorded before and after, each piece with the monotonic
time at which it came, and the beats' phase on that clock is compared.

    python tests/proofs/sound_server_killed.py [--seconds 40] [--rate 173] [--speaker mixer]

Prints one JSON line; exits 1 where the bound does not hold, 3 where the machine lacks what is
needed.
"""

from __future__ import annotations

# First of all: it keeps numpy to one thread, as in `station run`.
import station  # noqa: F401

# isort: split

import contextlib
import os
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from kit.beats import beat_tones
from kit.pictures import PacedPictures, Pictures
from kit.running import options, served, tell
from kit.session import run_session
from kit.tones_found import RATE_HZ, find_beats
from pulse import SINK, PulseServer, launched_again

from station.simulate.parameters import GaitParameters

KILL_S = 14.0
GONE_S = 3.0
MOST_OFF_S = 0.020


@dataclass
class Heard:
    """What was recorded, and when each piece came."""

    data: bytearray = field(default_factory=bytearray)
    came: list[tuple[int, float]] = field(default_factory=list)

    def beats_s(self) -> np.ndarray:
        """Return when the beats were recorded, monotonic seconds, each within a piece's length."""
        sound = np.frombuffer(bytes(self.data[: len(self.data) // 8 * 8]), "<f4").reshape(-1, 2)
        found = find_beats(sound[:, 0], beat_tones())
        origin_s = min(t_s - samples / RATE_HZ for samples, t_s in self.came)
        return origin_s + np.sort(np.asarray(found.at)) / RATE_HZ


@contextlib.contextmanager
def listening(server: PulseServer) -> Iterator[Heard]:
    """Record the sink while the block runs."""
    heard = Heard()
    process = subprocess.Popen(
        [
            "parec", f"--device={SINK}.monitor", "--format=float32le", f"--rate={RATE_HZ}",
            "--channels=2", "--latency-msec=10", "--raw",
        ],
        env=os.environ | server.env, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
    )  # fmt: skip

    def read() -> None:
        assert process.stdout is not None
        while piece := os.read(process.stdout.fileno(), 65536):
            heard.data += piece
            heard.came.append((len(heard.data) // 8, time.monotonic()))

    reader = threading.Thread(target=read)
    reader.start()
    try:
        yield heard
    finally:
        process.terminate()
        process.wait(5)
        reader.join(5)


def results() -> Iterator[dict[str, object]]:
    """Run the proof."""
    asked = options(
        "A sound server killed in mid-session.",
        seconds=40.0, rate=173.0, speaker=("portaudio", "mixer"),
    )  # fmt: skip
    if asked.speaker == "mixer":
        sys.modules["sounddevice"] = None  # type: ignore[assignment]  # as where it is missing
    pictures = Pictures(GaitParameters(rate_spm=172.0, shank_deg=9.0), 30.0, 10.0)
    with served() as server, tempfile.TemporaryDirectory() as name:
        yield prove(server, pictures, Path(name), asked.seconds, asked.rate)


def prove(
    server: PulseServer, pictures: Pictures, folder: Path, seconds: float, rate_spm: float
) -> dict[str, object]:
    """Run the session, kill and launch the server beside it, and judge what was recorded."""
    parts: list[Heard] = []
    over = threading.Event()

    def attack() -> None:
        with listening(server) as before:
            parts.append(before)
            over.wait(KILL_S)
            server.process.kill()
            server.process.wait(5)
        over.wait(GONE_S)
        with launched_again(server, RATE_HZ) as again, listening(again) as after:
            parts.append(after)
            over.wait(seconds + 30.0)

    attacker = threading.Thread(target=attack)
    attacker.start()
    try:
        done = run_session(
            PacedPictures(pictures, seconds + 5.0), folder / "run", rate_spm, seconds
        )
    finally:
        over.set()
        attacker.join(20.0)
    before_s, after_s = (part.beats_s() for part in parts)
    period_s = 60.0 / rate_spm
    enough = len(before_s) >= 10 and len(after_s) >= 10
    off_s = [float("nan")]
    if enough:
        start_s = float(np.median(before_s - np.arange(len(before_s)) * period_s))
        places = (after_s - start_s) / period_s
        off_s = ((places - np.round(places)) * period_s).tolist()
    worst_s = float(np.max(np.abs(off_s)))
    notices = done.session["notices"]
    counts = done.session["sound_counts"]
    return {
        "proof": "sound_server_killed",
        "holds": bool(
            enough
            and worst_s <= MOST_OFF_S
            and any("Sound is off" in notice for notice in notices)
            and any("back after" in notice for notice in notices)
            and counts["times_lost"] >= 1
            and done.session["ended"] == "plan done"
        ),
        "rate_spm": rate_spm,
        "speaker": done.session["sound"],
        "beats_before": len(before_s),
        "beats_after": len(after_s),
        "median_off_ms": round(1000.0 * float(np.median(off_s)), 2),
        "worst_off_ms": round(1000.0 * worst_s, 2),
        "sound_counts": counts,
        "frames": done.frames,
        "ended": done.session["ended"],
        "notices": notices,
    }


if __name__ == "__main__":
    sys.exit(tell("sound_server_killed", results()))
