"""Prove that setting the wall clock in mid-session moves neither the beat nor the pulse.

A session runs with its beat; in its middle the wall clock of the station and of the sound server
is set forward, later back (`kit/wall_shift.py`: it is theirs alone, the machine's stays). What the
server's output plays is recorded, with the monotonic time at which each piece came. The beats
about each jump are held against k x period to the sample, and what the station told of each beat,
from which the screen's pulse is drawn, against the recording.

    python tests/proofs/wall_clock_jump.py [--seconds 40] [--rate 173] [--by 5]

Prints one JSON line; exits 1 where it does not hold, 3 where the machine lacks what is needed.
"""

from __future__ import annotations

# First of all: it keeps numpy to one thread, as in `station run`.
import station  # noqa: F401

# isort: split

import sys
import tempfile
import threading
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from kit.beats import beat_tones
from kit.pictures import PacedPictures, Pictures
from kit.running import options, served, tell
from kit.session import run_session
from kit.tape import read_tape, taping
from kit.tones_found import RATE_HZ, find_beats
from kit.wall_shift import is_shiftable, run_shiftable, shift_wall_clock
from numpy.typing import NDArray
from pulse import PulseServer

from station.clock import WallClock
from station.simulate.parameters import GaitParameters
from station.values import Heard

ABOUT_S = 6.0
"""So long before and after a jump the beats are judged."""
MOST_SAMPLES = 1.0
MOST_TOLD_S = 0.020


class HearingPictures(PacedPictures):
    """A source that keeps what it is told of the beats."""

    def __init__(self, pictures: Pictures, seconds: float) -> None:
        """Hear nothing yet."""
        super().__init__(pictures, seconds)
        self.heard: list[Heard] = []

    def hear(self, event: Heard) -> None:
        """Keep it."""
        self.heard.append(event)


def results() -> Iterator[dict[str, object]]:
    """Run the proof."""
    asked = options("The wall clock set in mid-session.", seconds=40.0, rate=173.0, by=5.0)
    run_shiftable()
    pictures = Pictures(GaitParameters(rate_spm=172.0, shank_deg=9.0), 30.0, 10.0)
    with served() as server, tempfile.TemporaryDirectory() as name:
        yield prove(server, pictures, Path(name), asked.seconds, asked.rate, asked.by)


def prove(
    server: PulseServer, pictures: Pictures, folder: Path, seconds: float, rate_spm: float,
    by_s: float,
) -> dict[str, object]:  # fmt: skip
    """Run the session, set the clock beside it, and judge what was recorded."""
    source = HearingPictures(pictures, seconds + 5.0)
    jumps: list[tuple[float, float]] = []  # session time, by how much
    over = threading.Event()

    def set_clock() -> None:
        for share, shift_s in ((0.4, by_s), (0.7, 0.0)):
            while source.clock is None or source.clock.now_s() < share * seconds:
                if over.wait(0.05):
                    return
            jumps.append((source.clock.now_s(), shift_wall_clock(shift_s)))

    setter = threading.Thread(target=set_clock)
    setter.start()
    try:
        with taping(server.env, folder / "tape", markers=False):
            both = is_shiftable(server.process.pid)
            done = run_session(source, folder / "run", rate_spm, seconds)
    finally:
        over.set()
        setter.join(10.0)
    assert isinstance(source.clock, WallClock)
    tape = read_tape(folder / "tape")
    beats = find_beats(tape.sound[:, 0], beat_tones())
    origin_s = float((tape.came[:, 1] - tape.came[:, 0] / RATE_HZ).min()) - source.clock.epoch_s
    at_s = origin_s + beats.at / RATE_HZ
    told_s = np.array([event.t_s for event in source.heard if event.kind == "beat"])
    about = [judged(beats.at, at_s, told_s, t_s, rate_spm) for t_s, _ in jumps]
    shifts_ms = [one["told_shift_ms"] for one in about]
    moved = len(jumps) == 2 and all(
        abs(moved_s - wanted) < 0.01
        for (_, moved_s), wanted in zip(jumps, (by_s, -by_s), strict=True)
    )
    ended: str = done.session["ended"]
    return {
        "proof": "wall_clock_jump",
        "holds": bool(
            moved
            and both
            and all(one["as_many_as_due"] for one in about)
            and all(one["worst_samples"] <= MOST_SAMPLES for one in about)
            and all(abs(ms) <= 1000.0 * MOST_TOLD_S for ms in shifts_ms)
            and ended == "plan done"
        ),
        "rate_spm": rate_spm,
        "jumps_s": [[round(t_s, 2), round(moved_s, 3)] for t_s, moved_s in jumps],
        "server_shifted": both,
        "beats": len(beats.at),
        "about_each_jump": about,
        "ended": ended,
        "frames": done.frames,
        "sound_counts": done.session["sound_counts"],
        "notices": done.session["notices"],
    }


def judged(
    at: NDArray[np.int64],
    at_s: NDArray[np.float64],
    told_s: NDArray[np.float64],
    jump_s: float,
    rate_spm: float,
) -> dict[str, float | bool]:
    """Judge the beats about one jump.

    Args:
        at: Onsets in the recording, samples.
        at_s: The same, session clock.
        told_s: What the station told of them.
        jump_s: Session clock.
        rate_spm: Of the beat.

    Returns:
        How many there are, the largest distance from k x period, and by how much what was told
        moved against the recording from before to after.
    """
    near = np.abs(at_s - jump_s) <= ABOUT_S
    period = 60.0 * RATE_HZ / rate_spm
    mine = at[near]
    off = mine - mine[0] - np.arange(mine.size) * period
    nearest_s = told_s[np.argmin(np.abs(told_s[:, None] - at_s[None, near]), axis=0)]
    early_s, after = nearest_s - at_s[near], at_s[near] > jump_s
    return {
        "beats": int(mine.size),
        "as_many_as_due": bool(abs(mine.size - 2.0 * ABOUT_S * RATE_HZ / period) <= 1.0),
        "worst_samples": round(float(np.ptp(off)) / 2.0, 3),
        "told_shift_ms": round(
            1000.0 * float(np.median(early_s[after]) - np.median(early_s[~after])), 3
        ),
    }


if __name__ == "__main__":
    sys.exit(tell("wall_clock_jump", results()))
