"""Prove that the beat stays exact for minutes beside the whole loop with the machine full.

A simulated camera gives pictures faster than this machine can work them through; the real pose
model, the measurement and the coach run as in `station run`, and the sound server's monitor is
recorded. For each rate every tick is found in the recording and held against k x period, and what
is left of the recording when the ticks are taken out must be silence: a gap, a click or a stretch
played twice would stay in it.

    python tests/proofs/ten_minutes.py [--seconds 600] [--rates 180 173] [--fps 60] [--window]

Prints one JSON line per rate; exits 1 where the bound does not hold, 3 where the machine lacks
what is needed.
"""

from __future__ import annotations

# First of all: it keeps numpy to one thread, as in `station run`.
import station  # noqa: F401

# isort: split

import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from kit.beats import beat_tones
from kit.pictures import PacedPictures, Pictures
from kit.running import options, served, shown, tell
from kit.session import run_session
from kit.tape import read_tape, taping
from kit.tones_found import RATE_HZ, evenness, find_beats, left_over
from pulse import PulseServer

from station.simulate.parameters import GaitParameters

MOST_LEFT = 0.002
"""Largest sample that may be left of the recording without its ticks, of full scale: -54 dB."""
FEWEST = 0.98
"""Share of the beats of so many seconds that must be there at least (the session's start and end
cost a few)."""


def results() -> Iterator[dict[str, object]]:
    """Run the proof at each rate."""
    asked = options(
        "Minutes of beat beside the full loop.",
        seconds=600.0, rates=[180.0, 173.0], fps=60.0, window=False,
    )  # fmt: skip
    pictures = Pictures(GaitParameters(rate_spm=172.0, shank_deg=9.0), asked.fps, 10.0)
    with served() as server, shown(asked.window):
        for rate_spm in asked.rates:
            yield prove(server, pictures, rate_spm, asked.seconds, asked.window)


def prove(
    server: PulseServer, pictures: Pictures, rate_spm: float, seconds: float, window: bool
) -> dict[str, object]:
    """Run, record and judge at one rate."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        source = PacedPictures(pictures, seconds + 5.0)
        with taping(server.env, folder / "tape", markers=False):
            done = run_session(source, folder, rate_spm, seconds, window=window)
        sound = read_tape(folder / "tape").sound
    tones = beat_tones()
    beats = find_beats(sound[:, 0], tones)
    even = evenness(beats, rate_spm)
    rest = left_over(sound[:, 0], [(t, beats.at[beats.tone == i]) for i, t in enumerate(tones)])
    worst = int(np.abs(rest).argmax())
    enough = even.beats >= FEWEST * (seconds * rate_spm / 60.0 - 3.0)
    frames = done.frames
    worked = (frames["captured"] - frames["dropped"]) / seconds
    return {
        "proof": "ten_minutes",
        "holds": bool(even.holds and enough and abs(rest[worst]) <= MOST_LEFT),
        "rate_spm": rate_spm,
        "seconds": seconds,
        "beats": even.beats,
        "lost": even.lost,
        "double": even.double,
        "worst_samples": round(even.worst_samples, 3),
        "shifts_s_samples": even.shifts[:20],
        "mean_interval_error": even.mean_interval_error,
        "least_likeness": round(float(beats.likeness.min(initial=1.0)), 5),
        "most_left": round(float(abs(rest[worst])), 6),
        "most_left_at_s": round(worst / RATE_HZ, 3),
        "peak": round(float(np.abs(sound).max()), 4),
        "camera_fps": pictures.fps,
        "worked_fps": round(worked, 1),
        "dropped_share": round(frames["dropped"] / max(frames["captured"], 1), 3),
        "window": window,
        "sound": done.session["sound"],
        "notices": done.session["notices"],
    }


if __name__ == "__main__":
    sys.exit(tell("ten_minutes", results()))
