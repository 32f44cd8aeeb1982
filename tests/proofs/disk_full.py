"""Prove that a full disk and a locked database stop nothing, and that nothing is lost by them.

A whole live session runs, as `station run` does it: the demo's runner drawn by the clock, the real
pose model on the pixels, a real window, the session's files and its visit in the records. Before,
during and after the trouble two things are timed: each turn of the loop, from the pose's coming
until the loop asks for the next one, and the part of it that goes into table and records.

`full`: records and files lie on a disk of 4 MB that is filled to the brim in mid-session, then
freed. The disk is a tmpfs where mounting is permitted; else a limit on the size of this process's
files (RLIMIT_FSIZE), which lets writing fail in the same place. `locked`: another process'
transaction holds the database, for longer than any wait.

    python tests/proofs/disk_full.py [--seconds 10] [--fast]

With --fast the same loop takes every picture, however long it takes: for a machine that other
programs keep busy.

Prints a JSON line for each; exits 1 where one does not hold, 3 where there is no virtual screen.
"""

from __future__ import annotations

import station  # noqa: F401

# isort: split

import argparse
import contextlib
import dataclasses
import io
import json
import os
import resource
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast
from unittest import mock

from kit.running import options, shown, tell
from kit.session import plan_text

from station.commands.perform import Job, perform
from station.commands.run import feed_maker
from station.commands.simulated import demo_bay, demo_scenario, demo_source
from station.commands.visit_record import VisitRecord
from station.keep import Place, make_place
from station.keep.store import Records, Wanted
from station.live import Feed
from station.live.feed import Seen
from station.settings import read_plan

PARTS = ("before", "during", "after")
KEEPING_MOST_S = 0.010
"""Of the 99th percentile of a turn's keeping: it waits for nothing."""
SLOWER_MOST = 1.5
"""By so much a turn in trouble may take longer than one without (95th percentiles)."""
STEPS_FEWEST = 2.0
"""Of a second of running, in each part."""


@dataclass
class Trouble:
    """A trouble that can be made and ended."""

    how: str
    begin: Callable[[], None]
    end: Callable[[], None]


class Times:
    """What each turn took, and what keeping took in it, part by part."""

    def __init__(self, trouble: Trouble, seconds: float) -> None:
        """Begin before the trouble; each part is so long."""
        self.part = "before"
        self._trouble = trouble
        self._seconds = seconds
        self.turns: dict[str, list[float]] = {part: [] for part in PARTS}
        self.keeping: dict[str, list[float]] = {part: [] for part in PARTS}
        self.steps = dict.fromkeys(PARTS, 0)
        self._kept_s = 0.0

    def move_on(self, t_s: float) -> None:
        """Make the trouble, or end it, when its time has come; between two turns."""
        if self.part == "before" and t_s >= self._seconds:
            self._trouble.begin()
            self.part = "during"
        elif self.part == "during" and t_s >= 2.0 * self._seconds:
            self._trouble.end()
            self.part = "after"

    def turn(self, took_s: float) -> None:
        """Take one turn's time."""
        self.turns[self.part].append(took_s)
        self.keeping[self.part].append(self._kept_s)
        self._kept_s = 0.0

    def timed(self, name: str) -> Callable[..., None]:
        """Return a method of `VisitRecord` that is timed."""
        real = getattr(VisitRecord, name)

        def call(record: VisitRecord, *given: object) -> None:
            begun_s = time.perf_counter()
            real(record, *given)
            self._kept_s += time.perf_counter() - begun_s
            self.steps[self.part] += name == "write"

        return call

    def figures(self) -> dict[str, dict[str, float]]:
        """Return, part by part, how many turns and steps there were and what they took, ms."""
        return {
            part: {
                "turns": len(self.turns[part]),
                "steps": self.steps[part],
                "turn_median_ms": share_ms(self.turns[part], 0.5),
                "turn_p95_ms": share_ms(self.turns[part], 0.95),
                "turn_most_ms": share_ms(self.turns[part], 1.0),
                "keeping_p99_ms": share_ms(self.keeping[part], 0.99),
                "keeping_most_ms": share_ms(self.keeping[part], 1.0),
            }
            for part in PARTS
        }


def share_ms(times_s: list[float], share: float) -> float:
    """Return what a share of the times stays under, milliseconds."""
    place = min(int(share * len(times_s)), len(times_s) - 1)
    return round(1000.0 * sorted(times_s)[place], 3)


class TimedFeed:
    """A feed; tells how long the loop takes from a pose until it asks for the next."""

    def __init__(self, feed: Feed, times: Times) -> None:
        """Stand before a feed."""
        self._feed = feed
        self._times = times
        self._came_s: float | None = None

    def __getattr__(self, name: str) -> Any:
        """As the feed's own."""
        return getattr(self._feed, name)

    def next(self, timeout_s: float) -> Seen | None:
        """As the feed's own."""
        if self._came_s is not None:
            self._times.turn(time.perf_counter() - self._came_s)
        self._came_s = None
        seen = self._feed.next(timeout_s)
        if seen is not None:
            self._times.move_on(seen.pose.t_s)
            self._came_s = time.perf_counter()
        return seen


def results() -> Iterator[dict[str, object]]:
    """Run both."""
    asked = options("A full disk and a locked database.", seconds=10.0, fast=False)
    with shown(), tempfile.TemporaryDirectory() as name:
        with small_disk(Path(name) / "small") as (folder, trouble):
            yield run("full", folder, trouble, asked)
        folder = Path(name) / "locked"
        folder.mkdir()
        yield run("locked", folder, locking(make_place(str(folder / "records"))), asked)


def run(name: str, folder: Path, trouble: Trouble, asked: argparse.Namespace) -> dict[str, object]:
    """Run a session through the trouble and look at what is there afterwards."""
    seconds: float = asked.seconds
    place = make_place(str(folder / "records"))
    plan = folder / "plan.toml"
    plan.write_text(plan_text(170.0, 3.0 * seconds + 60.0), encoding="utf-8")
    times = Times(trouble, seconds)
    source = demo_source(demo_scenario(), read_plan(plan))
    make_feed = feed_maker(source, asked.fast)
    job = Job(
        kind="clip",
        make_feed=lambda clock: cast(Feed, TimedFeed(make_feed(clock), times)),
        source=source,
        plan=read_plan(plan),
        bay=dataclasses.replace(demo_bay(demo_scenario()), name="Trouble"),
        out=folder / "session",
        runner="R07",
        stream_time=asked.fast,
        window=True,
        mute=True,
        seconds=3.0 * seconds + 1.0,
        place=place,
    )
    with (
        contextlib.redirect_stdout(io.StringIO()),
        mock.patch.object(VisitRecord, "write", times.timed("write")),
        mock.patch.object(VisitRecord, "follow", times.timed("follow")),
    ):
        perform(job, argparse.Namespace())
    session = json.loads((folder / "session" / "session.json").read_text(encoding="utf-8"))
    with Records(place) as records:
        (line,) = records.visits(Wanted())
    rows = len((folder / "session" / "steps.csv").read_text().splitlines()) - 1
    parts = times.figures()
    usual = max(parts["before"]["turn_p95_ms"], parts["after"]["turn_p95_ms"])
    told = [
        n
        for n in session["notices"]
        if any(word in n for word in ("records", "steps.csv", "isk full"))
    ]
    return {
        "proof": "disk_full", "trouble": name, "how": trouble.how, "put": session["steps"],
        "in_records": line.steps, "in_table": rows, "lost": line.steps_lost, "parts": parts,
        "frames": session["frames"], "told": told, "notices": session["notices"],
        "holds": line.steps == rows == session["steps"]
        and bool(told)
        and session["ended"] == "time is up"
        and all(one["steps"] >= STEPS_FEWEST * seconds for one in parts.values())
        and all(one["keeping_p99_ms"] < 1000.0 * KEEPING_MOST_S for one in parts.values())
        and parts["during"]["turn_p95_ms"] <= SLOWER_MOST * usual,
    }  # fmt: skip


@contextlib.contextmanager
def small_disk(folder: Path) -> Iterator[tuple[Path, Trouble]]:
    """Make a disk that can be filled."""
    folder.mkdir()
    mounted = (
        subprocess.run(
            ["mount", "-t", "tmpfs", "-o", "size=4m,mode=700", "tmpfs", str(folder)],
            check=False, capture_output=True,
        ).returncode
        == 0
    )  # fmt: skip
    try:
        yield folder, (filling(folder) if mounted else limiting())
    finally:
        if mounted:
            subprocess.run(["umount", str(folder)], check=False, capture_output=True)


def filling(folder: Path) -> Trouble:
    """Fill the disk to its last byte, and free it again."""
    ballast = folder / "ballast"

    def fill() -> None:
        with contextlib.suppress(OSError), ballast.open("wb", buffering=0) as file:
            while True:
                file.write(b"0" * 4096)

    return Trouble("tmpfs of 4 MB, filled", fill, ballast.unlink)


def limiting() -> Trouble:
    """Let no file of this process grow, and let them grow again."""
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    return Trouble(
        "RLIMIT_FSIZE of 1 byte",
        lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (1, hard)),
        lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard)),
    )


def locking(place: Place) -> Trouble:
    """Hold the database from another process."""
    code = (
        "import sqlite3, sys; c = sqlite3.connect(sys.argv[1], isolation_level=None, timeout=30); "
        "c.execute('BEGIN EXCLUSIVE'); print('locked', flush=True); sys.stdin.read()"
    )
    held: list[subprocess.Popen[bytes]] = []

    def lock() -> None:
        child = subprocess.Popen(
            [sys.executable, "-c", code, str(place.database)],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        )  # fmt: skip
        assert child.stdout is not None
        child.stdout.readline()
        held.append(child)

    def free() -> None:
        held[0].communicate(timeout=10)

    return Trouble(
        f"BEGIN EXCLUSIVE in another process (SQLite {sqlite3.sqlite_version})", lock, free
    )


if __name__ == "__main__":
    os.umask(0o077)
    sys.exit(tell("disk_full", results()))
