"""Prove that a full disk and a locked database stop nothing, and that nothing is lost by them.

A loop at 60 turns a second stands for the live loop: in each turn it does what a frame does here,
a step every so often into `steps.csv` and into the records, and the notice is asked for. Before,
during and after the trouble the time of each turn's work is taken.

`full`: records and table lie on a disk of 4 MB that is filled to the brim in mid-visit, then freed.
The disk is a tmpfs where mounting is permitted; else a limit on the size of this process's files
(RLIMIT_FSIZE), which lets writing fail in the same place. `locked`: another process' transaction
holds the database, for longer than any wait.

    python tests/proofs/disk_full.py [--seconds 6]

Prints a JSON line for each; exits 1 where one does not hold.
"""

from __future__ import annotations

import station  # noqa: F401

# isort: split

import contextlib
import os
import resource
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
import uuid
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import datetime, timezone
from pathlib import Path

from kit.running import options, tell

from station.keep import StepsWriter
from station.keep.store import Place, Records, VisitStart, Wanted, begin_visit, make_place
from station.values import Step, StepRecord

TURN_S = 1.0 / 60.0
STEPS_A_SECOND = 12
"""Four times a runner's."""
TURN_MOST_S = 0.010
"""Of the 99th percentile of a turn's work: it waits for nothing."""


@dataclass
class Trouble:
    """A trouble that can be made and ended."""

    how: str
    begin: Callable[[], None]
    end: Callable[[], None]
    notices: set[str] = field(default_factory=set)


def results() -> Iterator[dict[str, object]]:
    """Run both."""
    asked = options("A full disk and a locked database.", seconds=6.0)
    with tempfile.TemporaryDirectory() as name:
        with small_disk(Path(name) / "small") as (folder, trouble):
            yield run("full", folder, trouble, asked.seconds)
        folder = Path(name) / "locked"
        folder.mkdir()
        yield run("locked", folder, locking(make_place(str(folder / "records"))), asked.seconds)


def run(name: str, folder: Path, trouble: Trouble, seconds: float) -> dict[str, object]:
    """Keep a visit through the trouble and look at what is there afterwards."""
    place = make_place(str(folder / "records"))
    start = VisitStart(
        uuid.uuid4().hex, "R07", "Bay", "Trouble", "camera", datetime.now(timezone.utc)
    )
    visit = begin_visit(place, start)
    works: dict[str, list[float]] = {}
    put = 0
    notices: set[str] = set()
    with StepsWriter(folder / "steps.csv") as writer:
        for part in ("before", "during", "after"):
            if part == "during":
                trouble.begin()
            if part == "after":
                trouble.end()
            times = works[part] = []
            until_s = time.monotonic() + seconds
            next_s = time.monotonic()
            turn = 0
            while time.monotonic() < until_s:
                begun_s = time.perf_counter()
                if turn % (60 // STEPS_A_SECOND) == 0:
                    put += 1
                    one = Step(put, "left", True, put / 12.0, put / 12.0, shank_deg=7.0)
                    record = StepRecord(one, "Easy", "within", False, None, None)
                    writer.write(record)
                    visit.write(record)
                notices |= {n for n in (visit.notice, writer.notice) if n}
                times.append(time.perf_counter() - begun_s)
                turn += 1
                next_s += TURN_S
                time.sleep(max(0.0, next_s - time.monotonic()))
        end_said = visit.end("done")
    with Records(place) as records:
        (line,) = records.visits(Wanted())
    rows = len((folder / "steps.csv").read_text().splitlines()) - 1
    figures = {
        part: {
            "p99_ms": round(1000.0 * sorted(times)[int(0.99 * len(times))], 3),
            "most_ms": round(1000.0 * max(times), 3),
        }
        for part, times in works.items()
    }
    return {
        "proof": "disk_full", "trouble": name, "how": trouble.how, "put": put,
        "in_records": line.steps, "in_table": rows, "lost": line.steps_lost, "turns": figures,
        "told": sorted(notices), "at_the_end": end_said,
        "holds": line.steps == rows == put
        and bool(notices)
        and all(one["p99_ms"] < 1000.0 * TURN_MOST_S for one in figures.values()),
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
