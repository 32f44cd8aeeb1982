"""Steps that are put away come back as they were, in order, whatever the disk does."""

from __future__ import annotations

import dataclasses
import tempfile

import pytest

from station.live.shelf import Shelf, StepRows
from station.values import Step, StepRecord


def record(number: int) -> StepRecord:
    step = Step(
        number=number,
        side="left" if number % 2 else "right",
        near=bool(number % 2),
        t_contact_s=number / 3.0,
        t_verdict_s=number / 3.0 + 0.1,
        shank_deg=None if number % 5 == 0 else number / 7.0,
    )
    return StepRecord(step, "Drill", "within", False, None, number / 700.0)


def filled(count: int, shelf: Shelf | None = None) -> tuple[StepRows, list[StepRecord]]:
    rows, wanted = (shelf or Shelf(block=8)).rows(), [record(n) for n in range(count)]
    for one in wanted:
        rows.append(one)
    return rows, wanted


@pytest.mark.parametrize("count", [0, 1, 7, 8, 9, 100])
def test_all_come_back_exactly_and_more_than_once(count: int) -> None:
    rows, wanted = filled(count)
    assert len(rows) == count
    assert bool(rows) is (count > 0)
    assert list(rows) == wanted
    assert list(rows) == wanted
    assert [rows[i] for i in range(-count, count)] == [wanted[i] for i in range(-count, count)]
    assert rows[3:20:2] == wanted[3:20:2]
    with pytest.raises(IndexError):
        rows[count]


def test_only_the_newest_are_held_in_memory() -> None:
    rows, _ = filled(100)
    assert sum(isinstance(block, list) for block in rows._away) == 0
    assert len(rows._newest) == 4


def test_two_drills_share_a_shelf_and_are_read_while_it_grows() -> None:
    shelf = Shelf(block=4)
    one, two = shelf.rows(), shelf.rows()
    wanted = [record(n) for n in range(40)]
    for number, row in enumerate(wanted):
        (one if number % 3 else two).append(row)
        if number == 20:
            assert list(one) == [w for i, w in enumerate(wanted[:21]) if i % 3]
    assert list(one) == [w for i, w in enumerate(wanted) if i % 3]
    assert list(two) == wanted[::3]


def test_a_full_disk_loses_no_step(monkeypatch: pytest.MonkeyPatch) -> None:
    class Full:
        """Takes a hundred bytes of each block and says so."""

        def __init__(self) -> None:
            self.full = False

        def seek(self, _at: int) -> int:
            return 0

        def write(self, data: bytes) -> int:
            self.full = not self.full
            if self.full:
                return 100
            raise OSError(28, "no space left")

        def close(self) -> None: ...

    monkeypatch.setattr(tempfile, "TemporaryFile", lambda **_: Full())
    rows, wanted = filled(100)
    assert list(rows) == wanted
    monkeypatch.undo()
    for number in range(100, 200):  # room again
        rows._shelf._file = None
        rows.append(record(number))
    assert len(rows) == 200


def test_the_file_is_closed_with_its_shelf() -> None:
    shelf = Shelf(block=2)
    rows, _ = filled(10, shelf)
    file = shelf._file
    assert file is not None
    assert not file.closed
    del shelf, rows
    assert file.closed


def test_every_field_of_a_record_is_kept() -> None:
    rows, wanted = filled(8)
    assert [dataclasses.asdict(row) for row in rows] == [dataclasses.asdict(w) for w in wanted]
