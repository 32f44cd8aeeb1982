"""Erasing a runner, proven in the raw files, and handing records out."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from pathlib import Path

import pyarrow.parquet as pq
import pytest
from sqlalchemy import text

from station.errors import BadInput
from station.keep import StepsWriter
from station.keep.store import Answer, Place, Records, VisitStart, Wanted, begin_visit
from station.keep.store.dictionary import SHEETS
from station.keep.store.engine import open_engine
from station.keep.store.export import export
from station.keep.store.journal import path_of, to_line
from station.keep.store.visit import begin_operation
from station.values import StepRecord

CODE = "ZQ-77-RUNNER"
Start = Callable[..., VisitStart]
MakeStep = Callable[..., StepRecord]


def holds(folder: Path, word: str) -> list[str]:
    """Return the files below a folder in whose raw bytes a word stands."""
    files = [path for path in folder.rglob("*") if path.is_file()]
    return [str(path) for path in files if word.encode() in path.read_bytes()]


def tables(place: Place) -> Path:
    """Return where the database's tables lie, as they are on the disk now."""
    if place.url is None:
        return place.folder
    engine = open_engine(place, 5.0)
    with engine.connect() as connection:
        connection.execution_options(isolation_level="AUTOCOMMIT").execute(text("CHECKPOINT"))
    engine.dispose()
    return Path(place.url.split("host=")[1]) / "data" / "base"


def session(folder: Path, code: str) -> Path:
    folder.mkdir()
    (folder / "session.json").write_text(json.dumps({"runner": code}))
    for name in ("steps.csv", "screen.mp4", "sound.wav", "still.png"):
        (folder / name).write_text(f"{name} of {code}")
    return folder


def keep(place: Place, start: VisitStart, step: MakeStep, count: int) -> None:
    visit = begin_visit(place, start)
    for number in range(1, count + 1):
        visit.write(step(number))
    visit.answer(Answer("after", 1, "shin"))
    visit.end("done")


def test_forgetting_leaves_no_trace_in_the_raw_files(
    place: Place, start: Start, step: MakeStep, tmp_path: Path
) -> None:
    on_record = session(tmp_path / "one", CODE)
    moved = session(tmp_path / "elsewhere", CODE)
    another = session(tmp_path / "two", "OTHER")
    (moved / "my notes.txt").write_text("mine")
    keep(place, start(CODE, folder=str(on_record)), step, 200)
    keep(place, start("OTHER", folder=str(another)), step, 50)
    waiting = start(CODE)
    path_of(place.spool, waiting.uid).write_bytes(
        to_line({"do": "step", "visit": waiting.uid, "row": 0})
        + to_line(begin_operation(waiting, place.station()))
    )
    with Records(place) as records:
        records.change_runner(CODE, 3.0, 40, video=True)
    assert holds(tables(place), CODE)
    with Records(place) as records:
        erased = records.forget(CODE, (tmp_path,))
        assert records.runner(CODE) is None
        assert [one.runner for one in records.visits(Wanted())] == ["OTHER"]
    assert erased.visits == 2  # with the one that waited in the spool
    assert erased.steps == 201
    assert holds(tables(place), CODE) == holds(place.folder, CODE) == []
    assert not on_record.exists()
    assert [path.name for path in moved.iterdir()] == ["my notes.txt"]
    assert any("my notes.txt" in sentence for sentence in erased.left)
    assert len(list(another.iterdir())) == 5


def test_a_forgotten_visit_does_not_come_back_from_a_spool(
    place: Place, start: Start, step: MakeStep
) -> None:
    first = start(CODE)
    keep(place, first, step, 5)
    with Records(place) as records:
        records.forget(CODE)
    path_of(place.spool, first.uid).write_bytes(to_line(begin_operation(first, "s")))
    with Records(place) as records:
        assert records.visits(Wanted()) == []
        assert records.runner(CODE) is None
    assert not list(place.spool.iterdir())


def test_a_runner_who_runs_is_not_forgotten(place: Place, start: Start) -> None:
    visit = begin_visit(place, start(CODE))
    try:
        while not visit._writer.moved:
            visit._writer._something.wait(0.05)
        with Records(place) as records, pytest.raises(BadInput, match="is not over"):
            records.forget(CODE)
    finally:
        visit.end("done")


def test_an_export_says_what_steps_csv_says(
    place: Place, start: Start, step: MakeStep, tmp_path: Path
) -> None:
    keep(place, start(CODE), step, 25)
    keep(place, start("OTHER"), step, 3)
    with StepsWriter(tmp_path / "steps.csv") as writer:
        for number in range(1, 26):
            writer.write(step(number))
    with Records(place) as records:
        done = export(records, Wanted(runner=CODE), tmp_path / "out")
    assert done.rows["steps"] == 25
    assert done.rows["answers"] == 1
    with (tmp_path / "out" / "steps.csv").open(newline="") as file:
        rows = list(csv.reader(file))
    with (tmp_path / "steps.csv").open(newline="") as file:
        assert [row[2:] for row in rows] == list(csv.reader(file))
    parquet = pq.read_table(tmp_path / "out" / "steps.parquet")
    assert parquet.column_names == rows[0]
    assert parquet["shank_deg"].to_pylist() == [7.12] * 25
    assert parquet.schema.field("shank_deg").metadata[b"unit"] == b"deg"


def test_the_dictionary_names_every_column(place: Place, tmp_path: Path) -> None:
    with Records(place) as records:
        export(records, Wanted(), tmp_path / "out")
    with (tmp_path / "out" / "dictionary.csv").open(newline="") as file:
        told = [(row["table"], row["column"], row["meaning"]) for row in csv.DictReader(file)]
    assert all(meaning for *_, meaning in told)
    for sheet in SHEETS:
        head = (tmp_path / "out" / f"{sheet.name}.csv").read_text().splitlines()[0].split(",")
        assert head == [column for table, column, _ in told if table == sheet.name]


def test_an_export_overwrites_nothing(place: Place, tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "mine").write_text("x")
    with Records(place) as records:
        with pytest.raises(BadInput, match="holds mine already"):
            export(records, Wanted(), tmp_path / "out")
        with pytest.raises(BadInput, match="no runner of this code"):
            export(records, Wanted(runner="NOBODY"), tmp_path / "new")
