"""Prove that reports are ready at once on records of a thousand visits.

1,000 visits with 3,000 steps each, of 60 runners, each with the drills of a session; then a
session's report and a progress report are written by the command, as whole processes. What counts
is the processor's time, as it does not hang on what else the machine does; the time by the clock
is told.

    python tests/proofs/report_time.py [--visits 1000] [--steps 3000]

Prints one JSON line; exits 1 where one takes 5 s or more.
"""

from __future__ import annotations

import station  # noqa: F401

# isort: split

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

from kit.running import options, tell
from many_visits import fill
from sqlalchemy import Connection, case, literal, select, update

from station.keep.store import Place, Records, make_place
from station.keep.store.gate import Gate
from station.keep.store.moving import runner_number
from station.keep.store.tables import drills, runners, steps, visits

MOST_S = 5.0
RUNNER = "R07"
DRILLS = 6
RUNNERS = 60
_ON = {"beat": True, "guides": True, "view": True, "cue": "every step", "cue_share": 1.0}
_OFF = {"beat": False, "guides": False, "view": True, "cue": "off", "cue_share": 0.0}


def results() -> Iterator[dict[str, object]]:
    """Run the proof."""
    asked = options("Reports on a thousand visits.", visits=1000.0, steps=3000.0)
    with tempfile.TemporaryDirectory() as name:
        yield prove(make_place(name), int(asked.visits), int(asked.steps))


def prove(place: Place, count: int, each: int) -> dict[str, object]:
    """Fill the records and time both reports."""
    Records(place).close()
    fill(place, 1, each)
    gate = Gate(place, 60.0)
    gate.write(lambda connection: make_session(connection, each))
    gate.write(lambda connection: multiply(connection, count))
    gate.close()
    told: dict[str, object] = {"proof": "report_time", "visits": count, "steps": count * each,
                               "loop_s": round(loop_s(), 2)}  # fmt: skip
    holds = True
    for kind in ("session", "progress"):
        runs = [timed(place, kind) for _ in range(3)]
        cpu_s, wall_s, size = min(runs)
        told |= {f"{kind}_cpu_s": round(cpu_s, 2), f"{kind}_wall_s": round(wall_s, 2),
                 f"{kind}_kb": size // 1024}  # fmt: skip
        holds = holds and cpu_s < MOST_S
    return told | {"holds": holds}


def loop_s() -> float:
    """Return the processor's seconds of ten million additions: how busy the machine is now.

    An idle core of two to three gigahertz needs half a second.
    """
    begun_s, total = time.process_time(), 0
    for i in range(10_000_000):
        total += i
    return time.process_time() - begun_s


def make_session(connection: Connection, each: int) -> None:
    """Make a session of the one visit: drills, and steps that a runner could have made."""
    span_s = 0.353 * each / DRILLS
    limit = {"deg": 7.0, "origin": "baseline"}
    (visit,) = connection.execute(select(visits.c.id)).scalars()
    for run in range(DRILLS):
        name = f"Drill {run + 1}"
        told = {
            "limits": {"left": limit, "right": limit}, "withhold_share": 0.2 * (run == 2),
            "channels": _OFF if run in (0, DRILLS - 1) else _ON,
            "beat": {"steps": 400, "concentration": 0.9, "mean_offset_s": -0.02,
                     "share_locked": 0.9},
        }  # fmt: skip
        connection.execute(drills.insert().values(
            visit=visit, run=run, number=run + 1, name=name, kind="run", began_s=span_s * run,
            ended_s=span_s * (run + 1), why="length", belt_speed_mps=2.7, incline_percent=0.0,
            target_spm=170.0, told=told,
        ))  # fmt: skip
        mine = (steps.c.t_contact_s >= span_s * run, steps.c.t_contact_s < span_s * (run + 1))
        connection.execute(update(steps).where(*mine).values(drill=name))
    shank = 6.0 - 0.2 * (steps.c.step % 7) + 0.5 * (steps.c.step % 5)
    even = steps.c.step % 2 == 0
    connection.execute(
        update(steps).values(
            shank_deg=shank, shank_at_verdict_deg=shank, near=even, step_time_s=0.353,
            step_length_m=0.9531, withheld=False, side=case((even, "left"), else_="right"),
        )
    )  # fmt: skip


def multiply(connection: Connection, count: int) -> None:
    """Copy the one visit until there are as many as wanted, three hours apart."""
    (first,) = connection.execute(select(visits)).all()
    for number in range(RUNNERS):
        runner_number(connection, f"R{number:02d}")
    codes = dict(connection.execute(select(runners.c.code, runners.c.id)).all())
    for number in range(1, count):
        told = {**first._mapping, "uid": f"{number:032x}",
                "runner": codes[f"R{number % RUNNERS:02d}"],
                "began": first.began - timedelta(hours=3 * number)}  # fmt: skip
        told.pop("id")
        visit = connection.execute(visits.insert().values(told)).inserted_primary_key[0]
        for table in (drills, steps):
            names = [column.name for column in table.columns if column.name != "visit"]
            same = select(literal(visit), *(table.c[name] for name in names))
            same = same.where(table.c.visit == first.id)
            connection.execute(table.insert().from_select(["visit", *names], same))


def timed(place: Place, kind: str) -> tuple[float, float, int]:
    """Run the command; return the processor's seconds, the clock's, and the page's bytes."""
    page = place.folder / f"{kind}.html"
    command = [sys.executable, "-m", "station", "report", "--runner", RUNNER, "--kind", kind,
               "--records", str(place.folder), "--out", str(page)]  # fmt: skip
    before, begun_s = os.times(), time.monotonic()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, cwd=Path.cwd())
    wall_s, after = time.monotonic() - begun_s, os.times()
    cpu_s = (
        after.children_user + after.children_system - before.children_user - before.children_system
    )
    return cpu_s, wall_s, page.stat().st_size


if __name__ == "__main__":
    sys.exit(tell("report_time", results()))
