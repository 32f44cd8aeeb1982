"""Prove that two stations that write to one PostgreSQL server at once lose nothing.

A private server of the installed package is started. Two processes, each with its own folder,
keep visits of the same runner one after the other, as fast as they can put steps.

    python tests/proofs/two_stations.py [--visits 5] [--steps 3000]

Prints one JSON line; exits 1 where it does not hold, 3 where there is no PostgreSQL.
"""

from __future__ import annotations

import station  # noqa: F401

# isort: split

import subprocess
import sys
import tempfile
import time
import uuid
from collections.abc import Iterator
from datetime import datetime, timezone
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "kit"))

from kit.running import options, tell
from private_postgres import PostgresMissing, private_server
from sqlalchemy import func, select

from station.errors import DeviceTrouble
from station.keep.store import Records, VisitStart, Wanted, begin_visit, make_place
from station.keep.store.tables import runners, steps
from station.values import Step, StepRecord

PUT_AT_ONCE = 100


def results() -> Iterator[dict[str, object]]:
    """Run the proof."""
    asked = options("Two stations, one server.", visits=5.0, steps=3000.0)
    try:
        with private_server() as url, tempfile.TemporaryDirectory() as name:
            yield prove(url, name, int(asked.visits), int(asked.steps))
    except PostgresMissing as missing:
        raise DeviceTrouble(str(missing)) from None


def prove(url: str, name: str, visits: int, count: int) -> dict[str, object]:
    """Run both and count what the server has."""
    begun_s = time.monotonic()
    command = [sys.executable, __file__, "--keep", url]
    stations = [
        subprocess.Popen([*command, f"{name}/{one}", str(visits), str(count)])
        for one in ("one", "two")
    ]
    codes = [one.wait(300) for one in stations]
    took_s = time.monotonic() - begun_s
    with Records(make_place(f"{name}/three", url)) as records:
        lines = records.visits(Wanted())
        kept, people = records.read(
            lambda c: (
                c.execute(select(func.count()).select_from(steps)).scalar_one(),
                c.execute(select(func.count()).select_from(runners)).scalar_one(),
            )
        )
    put = 2 * visits * count
    return {
        "proof": "two_stations", "visits": len(lines), "runners": people, "put": put,
        "kept": kept, "seconds": round(took_s, 1),
        "holds": kept == put and len(lines) == 2 * visits and people == 1 and codes == [0, 0]
        and all(line.state == "ended" and line.steps == count for line in lines),
    }  # fmt: skip


def keep(url: str, folder: str, visits: int, count: int) -> None:
    """Keep visits, one after the other."""
    for _ in range(visits):
        now = datetime.now(timezone.utc)
        visit = begin_visit(
            make_place(folder, url), VisitStart(uuid.uuid4().hex, "R07", "Bay", "P", "camera", now)
        )
        for number in range(count):
            one = Step(number, "left", True, 0.35 * number, 0.35 * number, shank_deg=7.0)
            visit.write(StepRecord(one, "Easy", "within", False, None, None))
            if number % PUT_AT_ONCE == 0:
                time.sleep(0.01)
        said = visit.end("done")
        if said is not None:
            raise SystemExit(said)


if __name__ == "__main__":
    if sys.argv[1:2] == ["--keep"]:
        keep(sys.argv[2], sys.argv[3], int(sys.argv[4]), int(sys.argv[5]))
        sys.exit(0)
    sys.exit(tell("two_stations", results()))
