"""The station's own log: whole lines, for the owner alone, bounded, and nothing said too often."""

from __future__ import annotations

import json
import stat
from pathlib import Path
from typing import Any

import pytest

from station.keep.station_log import FILES, StationLog


class Clock:
    def __init__(self) -> None:
        self.now_s = 0.0

    def __call__(self) -> float:
        return self.now_s


def lines(path: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]


def test_a_line_is_one_object_with_its_fields(tmp_path: Path) -> None:
    log = StationLog(tmp_path / "log")
    log("error", "camera_lost", device="camera 0", said="ü\nnext line", lasted_s=1.5)
    log.close()
    (line,) = lines(log.path)
    assert line.pop("t").endswith("Z")
    assert line == {
        "level": "error", "what": "camera_lost", "device": "camera 0", "said": "ü\nnext line",
        "lasted_s": 1.5,
    }  # fmt: skip


def test_only_the_owner_may_read_it_also_after_it_was_turned_over(tmp_path: Path) -> None:
    clock = Clock()
    log = StationLog(tmp_path / "log", megabytes=0.01, clock=clock)
    for number in range(400):
        clock.now_s += 100.0
        log("info", "visit_waiting", number=number, why="x" * 60)
    log.close()
    files = sorted((tmp_path / "log").iterdir())
    assert len(files) == FILES
    assert {stat.S_IMODE(file.stat().st_mode) for file in files} == {0o600}
    assert stat.S_IMODE((tmp_path / "log").stat().st_mode) == 0o700
    assert sum(file.stat().st_size for file in files) <= 10_000
    numbers = [line["number"] for file in files for line in lines(file)]
    assert max(numbers) == 399
    assert sorted(numbers) == list(range(min(numbers), 400)), "only the oldest are gone"


def test_the_same_thing_is_written_once_a_minute_with_how_often_it_came(tmp_path: Path) -> None:
    clock = Clock()
    log = StationLog(tmp_path, quiet_s=60.0, clock=clock)
    for _ in range(1000):
        clock.now_s += 0.1  # a hundred seconds
        log("warning", "sound_gone")
        log("warning", "camera_slow" if clock.now_s < 0.25 else "sound_gone")
    log.close()
    told = [(line["what"], line.get("held_back", 0)) for line in lines(log.path)]
    assert [what for what, _ in told] == ["sound_gone", "camera_slow", "sound_gone"]
    assert told[2][1] > 1000


def test_several_things_of_one_key_are_all_written(tmp_path: Path) -> None:
    log = StationLog(tmp_path)
    for found in ("dark", "darker"):
        log("warning", "start_check", of="light", found=found)
        log("error", "start_check", of="camera", found=found)
    log.close()
    told = [(line["of"], line["found"]) for line in lines(log.path)]
    assert told == [("light", "dark"), ("camera", "dark")]


def test_nothing_of_a_runner_is_written(tmp_path: Path) -> None:
    log = StationLog(tmp_path)
    log("info", "session_began", source="camera", runner="R-07", code="R-07")
    log.close()
    assert "R-07" not in log.path.read_text(encoding="utf-8")


def test_a_log_that_cannot_be_written_says_so_and_harms_nobody(tmp_path: Path) -> None:
    (tmp_path / "log").write_text("a file")
    log = StationLog(tmp_path / "log")
    assert "cannot be written" in str(log.trouble)
    log("error", "camera_lost")
    log.close()


def test_a_disk_that_fills_meanwhile_costs_lines_not_the_session(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    log = StationLog(tmp_path, quiet_s=0.0)
    log("info", "before")
    handler = log._logger.handlers[0]

    def full(text: str) -> int:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(handler.stream, "write", full)  # type: ignore[attr-defined]
    log("info", "lost")
    monkeypatch.undo()
    log("info", "after")
    log.close()
    assert [line["what"] for line in lines(log.path)] == ["before", "after"]
