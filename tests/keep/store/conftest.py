"""Places for records, on SQLite and, where a server is installed, on PostgreSQL."""

from __future__ import annotations

import itertools
import uuid
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import datetime, timezone
from pathlib import Path

import pytest
from private_postgres import PostgresMissing, private_server
from sqlalchemy import text

from station.keep.store import Place, VisitStart, make_place
from station.keep.store.engine import open_engine
from station.values import Step, StepRecord

_NUMBERS = itertools.count(1)


@pytest.fixture(scope="session")
def server() -> Iterator[str]:
    """Return the url of a private server."""
    pytest.importorskip("psycopg", reason="the extra 'postgres' is not installed")
    try:
        with private_server() as url:
            yield url
    except PostgresMissing as missing:
        pytest.skip(f"no PostgreSQL here: {missing}")


@pytest.fixture(params=["sqlite", "postgresql"])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> Place:
    """Return fresh records, empty."""
    made = make_place(str(tmp_path / "records"))
    if request.param == "sqlite":
        return made
    url = request.getfixturevalue("server")
    name = f"records_{next(_NUMBERS)}"
    engine = open_engine(replace(made, url=url), 5.0)
    with engine.connect() as fresh:
        fresh.execution_options(isolation_level="AUTOCOMMIT").execute(
            text(f"CREATE DATABASE {name}")
        )
    engine.dispose()
    return replace(made, url=url.replace("/postgres?", f"/{name}?"))


@pytest.fixture
def start() -> Callable[..., VisitStart]:
    """Return what makes visits to begin."""

    def make(runner: str = "R07", **given: object) -> VisitStart:
        values = {
            "uid": uuid.uuid4().hex, "runner": runner, "bay": "Bay 1", "plan": "Easy",
            "source": "camera", "began": datetime.now(timezone.utc),
        }  # fmt: skip
        return VisitStart(**{**values, **given})  # type: ignore[arg-type]

    return make


@pytest.fixture
def step() -> Callable[..., StepRecord]:
    """Return what makes steps; all that is asked is their number."""

    def make(number: int, landing: str | None = "within") -> StepRecord:
        t_s = 0.35 * number
        one = Step(
            number, "left" if number % 2 else "right", True, t_s, t_s + 0.05, step_time_s=0.35,
            shank_deg=7.123456, strike="rearfoot", confidence=0.9, toe_dive=False,
        )  # fmt: skip
        return StepRecord(one, "Easy", landing, False, None, None)  # type: ignore[arg-type]

    return make
