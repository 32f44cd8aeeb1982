"""Prove the tempo of a whole session by an independent library, from the recorded sound alone.

A session with cues runs beside the full loop; librosa then finds the beats in the recording, cues
and all. librosa's own tempo is read off whole frames of its onset strength (0.8 % apart at 180
with frames of 5.3 ms), so the tempo is taken from its beat times instead: a straight line through
all of them, numbered by their own median interval. librosa is not told the rate; it begins its
search at 150 per minute for every rate.

    python tests/proofs/tempo.py [--seconds 60] [--rates 180 173] [--fps 60]

Prints one JSON line per rate; exits 1 where the tempo is off by more than 0.1 %, 3 where something
needed is missing.
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
from kit.extra import independent
from kit.pictures import PacedPictures, Pictures
from kit.running import options, served, tell
from kit.session import run_session
from kit.tape import read_tape, taping
from kit.tones_found import RATE_HZ
from numpy.typing import NDArray
from pulse import PulseServer

from station.simulate.parameters import GaitParameters

MOST_OFF = 0.001
HOP = 256
SEARCH_FROM_SPM = 150.0


def results() -> Iterator[dict[str, object]]:
    """Run the proof at each rate."""
    asked = options(
        "The tempo of a session, by librosa.", seconds=60.0, rates=[180.0, 173.0], fps=60.0
    )
    independent("librosa")
    pictures = Pictures(GaitParameters(rate_spm=172.0, shank_deg=13.0), asked.fps, 10.0)
    with served() as server:
        for rate_spm in asked.rates:
            yield prove(server, pictures, rate_spm, asked.seconds)


def prove(
    server: PulseServer, pictures: Pictures, rate_spm: float, seconds: float
) -> dict[str, object]:
    """Run, record and judge at one rate."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        source = PacedPictures(pictures, seconds + 5.0)
        with taping(server.env, folder / "tape", markers=False):
            done = run_session(
                source, folder, rate_spm, seconds, feedback="every step", limit_deg=6.0
            )
        sound = read_tape(folder / "tape").sound
    beats_s, coarse_spm = librosa_beats(sound.mean(axis=1))
    gaps_s = np.diff(beats_s)
    number = np.concatenate([[0.0], np.cumsum(np.round(gaps_s / np.median(gaps_s)))])
    found_spm = 60.0 / float(np.polyfit(number, beats_s, 1)[0])
    off = found_spm / rate_spm - 1.0
    enough = beats_s.size >= 0.8 * seconds * rate_spm / 60.0
    return {
        "proof": "tempo",
        "holds": bool(enough and abs(off) <= MOST_OFF),
        "rate_spm": rate_spm,
        "seconds": seconds,
        "library": f"librosa {independent('librosa').__version__}",
        "beats": int(beats_s.size),
        "found_spm": round(found_spm, 4),
        "off_percent": round(100.0 * off, 5),
        "coarse_spm": round(coarse_spm, 2),
        "cues": done.session["latency_s"]["contact_to_cue"],
        "frames": done.frames,
    }


def librosa_beats(mono: NDArray[np.float32]) -> tuple[NDArray[np.float64], float]:
    """Return the times of the beats that librosa finds, seconds, and its own coarse tempo."""
    librosa = independent("librosa")
    heard = np.flatnonzero(np.abs(mono) > 0.01)
    mono = np.ascontiguousarray(mono[max(0, heard[0] - RATE_HZ // 2) : heard[-1] + RATE_HZ // 4])
    strength = librosa.onset.onset_strength(y=mono, sr=RATE_HZ, hop_length=HOP, n_fft=1024)
    coarse, beats_s = librosa.beat.beat_track(
        onset_envelope=strength, sr=RATE_HZ, hop_length=HOP, start_bpm=SEARCH_FROM_SPM,
        units="time", trim=True,
    )  # fmt: skip
    return np.asarray(beats_s, dtype=float), float(np.atleast_1d(coarse)[0])


if __name__ == "__main__":
    sys.exit(tell("tempo", results()))
