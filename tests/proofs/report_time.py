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
from pathlib import Path

from kit.running import options, tell
from many_visits import fill
from sqlalchemy import Connection, select, update

from station.keep.store import Place, Records, make_place
from station.keep.store.gate import Gate
from station.keep.store.tables import drills, steps, visits

MOST_S = 5.0
RUNNER = "R07"
DRILLS = 6
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
    fill(place, count, each)
    into_drills(place, each)
    told: dict[str, object] = {"proof": "report_time", "visits": count, "steps": count * each}
    holds = True
    for kind in ("session", "progress"):
        runs = [timed(place, kind) for _ in range(3)]
        cpu_s, wall_s, size = min(runs)
        told |= {f"{kind}_cpu_s": round(cpu_s, 2), f"{kind}_wall_s": round(wall_s, 2),
                 f"{kind}_kb": size // 1024}  # fmt: skip
        holds = holds and cpu_s < MOST_S
    return told | {"holds": holds}


def into_drills(place: Place, each: int) -> None:
    """Make sessions of the visits: drills, and steps that a runner could have made."""
    span_s = 0.353 * each / DRILLS
    limit = {"deg": 7.0, "origin": "baseline"}

    def work(connection: Connection) -> None:
        for run in range(DRILLS):
            name = f"Drill {run + 1}"
            told = {
                "limits": {"left": limit, "right": limit}, "withhold_share": 0.2 * (run == 2),
                "channels": _OFF if run in (0, DRILLS - 1) else _ON,
                "beat": {"steps": 400, "concentration": 0.9, "mean_offset_s": -0.02,
                         "share_locked": 0.9},
            }  # fmt: skip
            rows = [
                {"visit": visit, "run": run, "number": run + 1, "name": name, "kind": "run",
                 "began_s": span_s * run, "ended_s": span_s * (run + 1), "why": "length",
                 "belt_speed_mps": 2.7, "incline_percent": 0.0, "target_spm": 170.0, "told": told}
                for (visit,) in connection.execute(select(visits.c.id)).all()
            ]  # fmt: skip
            connection.execute(drills.insert(), rows)
            mine = (steps.c.t_contact_s >= span_s * run, steps.c.t_contact_s < span_s * (run + 1))
            connection.execute(update(steps).where(*mine).values(drill=name))
        shank = 6.0 - 0.2 * (steps.c.step % 7) + 0.5 * (steps.c.step % 5)
        side = steps.c.step % 2 == 0
        connection.execute(
            update(steps).values(
                shank_deg=shank, shank_at_verdict_deg=shank, near=side, step_time_s=0.353,
                step_length_m=0.9531, withheld=False,
            )
        )  # fmt: skip
        connection.execute(update(steps).where(side).values(side="left"))
        connection.execute(update(steps).where(~side).values(side="right"))

    gate = Gate(place, 60.0)
    gate.write(work)
    gate.close()


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
