"""Prove how soon a cue sounds after the foot came down: true contact to onset in the recording.

Live, in real time: pictures of a runner who always lands ahead go through the whole loop; the
sound server's monitor is recorded. The contacts are the simulator's own truth, brought to the
monotonic clock by the session's clock alone; the recording is brought to it by the recorder's
arrival times and by markers that the proof plays itself (`kit/tape.py`; the later of its two
bounds is used, so a delay is never told too short). Nothing that the station says of its own
timing is used. The pan of each cue says which foot it is about: a cue is held against the latest
true contact of that foot.

    python tests/proofs/contact_to_cue.py [--seconds 60] [--fps 60 30] [--window]

Prints one JSON line per frame rate; exits 1 where a bound does not hold, 3 where something needed
is missing.
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
from kit.beats import ahead_tone
from kit.pictures import PacedPictures, Pictures
from kit.running import options, served, shown, tell
from kit.session import run_session
from kit.tape import marker_tone, read_tape, taping
from kit.tones_found import CUE_BAND, MARKER_BAND, RATE_HZ, find, sides
from numpy.typing import NDArray
from pulse import PulseServer

from station.clock import WallClock
from station.coach.feedback import FeedbackRule
from station.simulate.parameters import GaitParameters
from station.values import TrueStep

BOUNDS_MS = {60.0: (150.0, 200.0), 30.0: (190.0, 240.0)}
"""Median and 95th percentile at each frame rate."""
WAY = GaitParameters(rate_spm=170.0, shank_deg=13.0)
LIMIT_DEG = 6.0
BEAT_SPM = 176.0
"""Not the runner's rate: the cues wander over every phase of the beat."""
BEGIN_S = 6.0
"""The station first learns the runner's touch and which leg is which."""
GAP_SLACK_S = 0.06
"""The gap between cues is kept from verdict to verdict, whose delays differ by so much."""


def results() -> Iterator[dict[str, object]]:
    """Run the proof at each frame rate."""
    asked = options(
        "True contact to the cue's onset, live.", seconds=60.0, fps=[60.0, 30.0], window=False
    )
    with served() as server, shown(asked.window):
        for fps in asked.fps:
            yield prove(server, fps, asked.seconds, asked.window)


def prove(server: PulseServer, fps: float, seconds: float, window: bool) -> dict[str, object]:
    """Run, record and judge at one frame rate."""
    pictures = Pictures(WAY, fps, min(seconds, 20.0))
    source = PacedPictures(pictures, seconds + 5.0)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        with taping(server.env, folder / "tape"):
            done = run_session(
                source, folder, BEAT_SPM, seconds, "every step", LIMIT_DEG, window=window
            )
        tape = read_tape(folder / "tape")
    assert isinstance(source.clock, WallClock)
    markers = find(tape.sound[:, 0], marker_tone(), MARKER_BAND)
    tone = ahead_tone()
    cues = find(tape.sound.mean(axis=1), tone, CUE_BAND, least=0.6)
    heard = sides(tape.sound, cues.at, tone.size)
    onset_s = tape.times_s(cues.at) + 0.5 * tape.block_s() - source.clock.epoch_s
    ahead = [t for t in source.truth() if t.shank_deg > LIMIT_DEG]
    end_s = seconds - 0.5
    delays_s, answered, strange = delays(ahead, onset_s, heard, BEGIN_S, end_s)
    due = due_landings(ahead, answered, BEGIN_S, end_s)
    step_s = 60.0 / WAY.rate_spm
    median_ms, most_ms = BOUNDS_MS[60.0 if fps > 45.0 else 30.0]
    ms = 1000.0 * delays_s if delays_s.size else np.full(1, np.inf)
    middle, p95, longest = float(np.median(ms)), float(np.percentile(ms, 95)), float(ms.max())
    frames = done.frames
    told = done.session["latency_s"]
    return {
        "proof": "contact_to_cue",
        "holds": bool(
            middle <= median_ms and p95 <= most_ms and longest <= 1000.0 * step_s and not strange
        ),
        "fps": fps,
        "seconds": seconds,
        "window": window,
        "cues": int(delays_s.size),
        "median_ms": round(middle, 1),
        "p95_ms": round(p95, 1),
        "longest_ms": round(longest, 1),
        "least_ms": round(float(ms.min()), 1),
        "bounds_ms": [median_ms, most_ms, round(1000.0 * step_s, 1)],
        "onset_at_most_ms_earlier": round(1000.0 * tape.block_s(), 2),
        "markers_due_before_given": tape.too_early(markers.at),
        "half_level_after_ms": round(half_level_ms(tone), 1),
        "cues_without_a_landing": strange,
        "landings_ahead": sum(BEGIN_S <= t.t_contact_s < end_s for t in ahead),
        "landings_due": len(due),
        "due_and_cued": round(sum(due) / len(due), 3) if due else None,
        "worked_fps": round((frames["captured"] - frames["dropped"]) / seconds, 1),
        "dropped_share": round(frames["dropped"] / max(frames["captured"], 1), 3),
        "given_late_ms": round(1000.0 * float(np.percentile(source.late_s, 95)), 1),
        "station_says_ms": {
            key: None if value is None else [round(1000.0 * value[k], 1) for k in ("median", "p95")]
            for key, value in told.items()
        },
        "sound": done.session["sound"],
    }


def delays(
    ahead: list[TrueStep],
    onset_s: NDArray[np.float64],
    heard: list[str | None],
    begin_s: float,
    end_s: float,
) -> tuple[NDArray[np.float64], dict[int, float], int]:
    """Hold every cue against the latest true contact of its foot.

    Returns:
        The delays in seconds; the onset by the landing's number; how many cues have no side, no
        landing, or a landing that was cued already.
    """
    found: list[float] = []
    answered: dict[int, float] = {}
    strange = 0
    for t_s, side in zip(onset_s, heard, strict=True):
        mine = [i for i, step in enumerate(ahead) if step.side == side and step.t_contact_s <= t_s]
        if not mine or mine[-1] in answered:
            strange += 1
            continue
        answered[mine[-1]] = float(t_s)
        contact_s = ahead[mine[-1]].t_contact_s
        if begin_s <= contact_s < end_s:
            found.append(float(t_s) - contact_s)
    return np.array(found), answered, strange


def due_landings(
    ahead: list[TrueStep], answered: dict[int, float], begin_s: float, end_s: float
) -> list[bool]:
    """Return, for each landing that was due a cue, whether it had one.

    Due is a landing that came later than the least gap after the landing cued last.
    """
    told: list[bool] = []
    last_s = -np.inf
    for i, step in enumerate(ahead):
        rested = step.t_contact_s - last_s >= FeedbackRule().least_gap_s + GAP_SLACK_S
        if begin_s <= step.t_contact_s < end_s and rested:
            told.append(i in answered)
        if i in answered:
            last_s = step.t_contact_s
    return told


def half_level_ms(tone: NDArray[np.float64]) -> float:
    """Return how long after its onset the tone first reaches half its peak, ms."""
    return 1000.0 * float(np.argmax(np.abs(tone) >= 0.5 * np.abs(tone).max())) / RATE_HZ


if __name__ == "__main__":
    sys.exit(tell("contact_to_cue", results()))
