"""Prove that a visit survives kill -9 at any moment.

Many times a process keeps a visit with --rate steps a second (a runner makes three), and writes of
each, unbuffered, that it has put it. At a random moment it is
killed. Then the records are opened: they must open, all steps put a second or more before the kill
must be in, the visit must be marked as broken off, and the next one must start. The last few go
through `station run` with the demo's runner, the pose model and all, judged by its steps.csv.

    python tests/proofs/killed.py [--times 50] [--whole 3] [--rate 12]

Prints one JSON line; exits 1 where it does not hold.
"""

from __future__ import annotations

import station  # noqa: F401

# isort: split

import csv
import json
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
import uuid
from collections.abc import Iterator
from datetime import datetime, timezone
from pathlib import Path

from kit.running import options, tell
from sqlalchemy import func, select

from station.keep.store import Place, Records, VisitStart, Wanted, begin_visit, make_place
from station.keep.store.tables import steps, visits
from station.values import Step, StepRecord

LOST_MOST_S = 1.0


def results() -> Iterator[dict[str, object]]:
    """Run the proof; as the child, keep a visit until killed."""
    asked = options("Killed in mid-session.", times=50.0, whole=3.0, rate=12.0)
    draw = random.Random(8)
    with tempfile.TemporaryDirectory() as name:
        place = make_place(f"{name}/records")
        Records(place).close()
        worst_s = 0.0
        put = kept = lost_late = broken = 0
        for number in range(int(asked.times)):
            log = Path(name) / f"{number}.log"
            told = kill_one(place, log, asked.rate, draw.uniform(0.05, 3.0))
            found = judge(place, f"K{number}")
            put += len(told.times)
            kept += found[0]
            broken += found[1]
            late = told.times[found[0] :]
            if late:
                worst_s = max(worst_s, told.killed_s - min(late))
            lost_late += sum(told.killed_s - t > LOST_MOST_S for t in late)
        whole = [kill_whole(name, number, draw) for number in range(int(asked.whole))]
        begin_next(place)
        yield {
            "proof": "killed",
            "times": int(asked.times),
            "put": put,
            "kept": kept,
            "oldest_lost_s": round(worst_s, 3),
            "lost_over_1_s": lost_late,
            "marked_broken_off": broken,
            "whole": whole,
            "holds": lost_late == 0
            and broken == int(asked.times)
            and all(one["holds"] for one in whole),
        }


class Told:
    """When each step was put, and when the process was killed, by one monotonic clock."""

    def __init__(self, times: list[float], killed_s: float) -> None:
        """Take both."""
        self.times = times
        self.killed_s = killed_s


def kill_one(place: Place, log: Path, rate: float, after_s: float) -> Told:
    """Start a visit in a process, kill it, and return what it had put."""
    command = [sys.executable, __file__, "--keep", str(place.folder), str(log), str(rate)]
    child = subprocess.Popen(command, env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)})
    while not (log.exists() and log.stat().st_size) and child.poll() is None:
        time.sleep(0.01)
    time.sleep(after_s)
    killed_s = time.monotonic()
    child.send_signal(signal.SIGKILL)
    child.wait()
    lines = log.read_text(encoding="ascii").splitlines()
    whole = [float(line[:-1]) for line in lines if line.endswith(";")]
    return Told([t_s for t_s in whole if t_s <= killed_s], killed_s)


def keep(folder: str, log: str, rate: float) -> None:
    """Keep a visit for ever: what is killed."""
    number = Path(log).stem
    start = VisitStart(
        uuid.uuid4().hex, f"K{number}", "Bay", "Killed", "camera", datetime.now(timezone.utc)
    )
    visit = begin_visit(make_place(folder), start)
    told = os.open(log, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
    begun_s = time.monotonic()
    row = 0
    while True:
        t_s = time.monotonic() - begun_s
        one = Step(row, "left", True, t_s, t_s, shank_deg=7.0)
        visit.write(StepRecord(one, "Easy", "within", False, None, None))
        os.write(told, f"{time.monotonic():.6f};\n".encode())
        row += 1
        time.sleep(1.0 / rate)


def judge(place: Place, code: str) -> tuple[int, bool]:
    """Open the records; return the steps of the visit, and whether it is marked."""
    with Records(place) as records:
        (line,) = records.visits(Wanted(runner=code))
        count, last = records.read(
            lambda c: c.execute(
                select(func.count(), func.max(steps.c.row))
                .join(visits, visits.c.id == steps.c.visit)
                .where(visits.c.uid == line.uid)
            ).one()
        )
    if count and last != count - 1:
        raise AssertionError(f"{code}: a gap: {count} steps, the last is {last}")
    return count, line.state == "broken off"


def kill_whole(name: str, number: int, draw: random.Random) -> dict[str, object]:
    """Kill `station run` with the demo's runner; hold the records against its steps.csv."""
    data, out, code = f"{name}/data", Path(name) / f"whole-{number}", f"W{number}"
    command = [sys.executable, "-m", "station", "run", "--source", "demo", "--headless", "--mute",
               "--belt-speed", "6 mph", "--runner", code, "--out", str(out)]  # fmt: skip
    child = subprocess.Popen(
        command, env={**os.environ, "XDG_DATA_HOME": data},
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    table = out / "steps.csv"
    until_s = time.monotonic() + 90.0
    while time.monotonic() < until_s and (not table.exists() or table.stat().st_size < 1500):
        time.sleep(0.05)
    time.sleep(draw.uniform(0.0, 4.0))
    child.send_signal(signal.SIGKILL)
    child.wait()
    with table.open(newline="") as file:
        rows = list(csv.DictReader(file))
    with Records(make_place(f"{data}/landing-station")) as records:
        (line,) = records.visits(Wanted(runner=code))
    session = json.loads((out / "session.json").read_text())
    newest_s = float(rows[-1]["t_contact_s"]) if rows else 0.0
    missing = rows[line.steps :]
    oldest_s = max((newest_s - float(row["t_contact_s"]) for row in missing), default=0.0)
    return {
        "in_table": len(rows), "in_records": line.steps, "oldest_missing_s": round(oldest_s, 3),
        "state": line.state, "session": session["ended"],
        "holds": oldest_s <= LOST_MOST_S and line.state == "broken off" and bool(rows),
    }  # fmt: skip


def begin_next(place: Place) -> None:
    """Begin the next visit and end it."""
    start = VisitStart(
        uuid.uuid4().hex, "NEXT", "Bay", "Next", "camera", datetime.now(timezone.utc)
    )
    if begin_visit(place, start).end("done") is not None:
        raise AssertionError("the next visit was not kept")


if __name__ == "__main__":
    if sys.argv[1:2] == ["--keep"]:
        keep(sys.argv[2], sys.argv[3], float(sys.argv[4]))
    sys.exit(tell("killed", results()))
