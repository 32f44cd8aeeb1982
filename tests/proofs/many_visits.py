"""Prove that the list of a thousand visits opens at once, and say how large the database is.

1,000 visits with 3,000 steps each go through the same code that a session's steps take, with all
columns filled. Then `station visits` is timed: from opening the records to the rows, and as a whole
process; and the size of an hour's running is read from the file.

    python tests/proofs/many_visits.py [--visits 1000] [--steps 3000]

Prints one JSON line; exits 1 where the list, or the whole process at its quickest, takes 0.5 s or
more (the process needs a quiet machine: `process_cpu_s` tells what it worked).
"""

from __future__ import annotations

import station  # noqa: F401

# isort: split

import os
import random
import statistics
import subprocess
import sys
import tempfile
import time
import uuid
from collections.abc import Iterator
from datetime import datetime, timedelta, timezone
from pathlib import Path

from kit.running import options, tell
from sqlalchemy import Connection

from station.keep.step_columns import COLUMNS
from station.keep.store import Place, Records, VisitStart, Wanted, make_place
from station.keep.store.gate import Gate
from station.keep.store.moving import move
from station.keep.store.visit import begin_operation

LIST_MOST_S = 0.5
STEPS_AN_HOUR = 170 * 60


def results() -> Iterator[dict[str, object]]:
    """Run the proof."""
    asked = options("A thousand visits.", visits=1000.0, steps=3000.0)
    with tempfile.TemporaryDirectory() as name:
        yield prove(make_place(name), int(asked.visits), int(asked.steps))


def prove(place: Place, visits: int, steps: int) -> dict[str, object]:
    """Fill the records and time the list."""
    Records(place).close()
    begun_s = time.monotonic()
    fill(place, visits, steps)
    fill_s = time.monotonic() - begun_s
    size = sum(path.stat().st_size for path in place.folder.glob("records.sqlite*"))
    inside = [listed_s(place) for _ in range(7)]
    whole = [process_s(place) for _ in range(7)]
    list_s = statistics.median(inside)
    return {
        "proof": "many_visits",
        "visits": visits,
        "steps": visits * steps,
        "list_s": round(list_s, 4),
        "process_s": round(min(whole), 3),
        "process_cpu_s": round(min(cpu_s(place) for _ in range(7)), 3),
        "bytes_a_step": round(size / (visits * steps), 1),
        "mb_an_hour": round(size / (visits * steps) * STEPS_AN_HOUR / 1e6, 2),
        "fill_s": round(fill_s, 1),
        "holds": list_s < LIST_MOST_S and min(whole) < LIST_MOST_S,
    }


def fill(place: Place, visits: int, steps: int) -> None:
    """Put the visits in."""
    draw = random.Random(8)
    gate = Gate(place, 5.0)
    now = datetime.now(timezone.utc)
    for number in range(visits):
        start = VisitStart(
            uuid.uuid4().hex, f"R{number % 60:02d}", f"Bay {number % 4}", "Same rate, faster belt",
            "camera", now - timedelta(hours=3 * number), None, {"landing-station": "0"},
        )  # fmt: skip
        operations = [begin_operation(start, place.station())]
        operations += [one_step(start.uid, row, draw) for row in range(steps)]
        operations.append(
            {"do": "end", "visit": start.uid, "ended": now.isoformat(), "why": "plan done"}
        )

        def work(connection: Connection, operations: list[dict[str, object]] = operations) -> None:
            move(connection, operations, None)

        gate.write(work)
    gate.close()


def one_step(uid: str, row: int, draw: random.Random) -> dict[str, object]:
    """Return a step with a value in every column."""
    told: dict[str, object] = {"do": "step", "visit": uid, "row": row}
    for column in COLUMNS:
        if column.kind == "number":
            told[column.name] = round(draw.uniform(-30.0, 30.0), column.decimals)
        else:
            told[column.name] = {"integer": row, "truth": row % 2 == 0, "text": "forefoot"}[
                column.kind
            ]
    return told | {"t_contact_s": 0.353 * row, "landing": "ahead" if row % 5 == 0 else "within"}


def listed_s(place: Place) -> float:
    """Open the records, list and close; return the seconds."""
    begun_s = time.monotonic()
    with Records(place) as records:
        lines = records.visits(Wanted(most=40))
        records.count(Wanted())
    assert lines
    return time.monotonic() - begun_s


def process_s(place: Place) -> float:
    """Run the command; return the seconds of the whole process."""
    command = [sys.executable, "-m", "station", "visits", "--records", str(place.folder)]
    begun_s = time.monotonic()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, cwd=Path.cwd())
    return time.monotonic() - begun_s


def cpu_s(place: Place) -> float:
    """Run the command; return the processor's seconds of the whole process."""
    before = os.times()
    process_s(place)
    after = os.times()
    return (
        after.children_user + after.children_system - before.children_user - before.children_system
    )


if __name__ == "__main__":
    sys.exit(tell("many_visits", results()))
