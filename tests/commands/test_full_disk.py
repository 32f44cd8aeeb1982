"""A disk that takes `session.json` no more: all else is done, and it is tried once again."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from station.commands.main import main
from station.errors import DeviceTrouble
from station.keep import SessionFile
from station.see.trace_columns import REQUIRED


def replayed(folder: Path, monkeypatch: pytest.MonkeyPatch, full: set[int]) -> int:
    """Replay a trace of nobody; `full` says which writings of the file find no room."""
    rows = "".join(f"{i / 30:.4f}{',' * (len(REQUIRED) - 1)}\n" for i in range(30))
    (folder / "trace.csv").write_text(f"{','.join(REQUIRED)}\n{rows}", encoding="utf-8")
    usual, count = SessionFile.write, 0

    def write(self: SessionFile, content: Mapping[str, Any]) -> None:
        nonlocal count
        count += 1
        if count in full:
            raise DeviceTrouble("session.json: cannot be written (No space left on device)")
        usual(self, content)

    monkeypatch.setattr(SessionFile, "write", write)
    monkeypatch.chdir(folder)
    return main(["replay", "trace.csv", "--out", "out"])


def test_room_that_comes_back_in_time_costs_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert replayed(tmp_path, monkeypatch, {2}) == 2  # nobody in view, as without a full disk
    told = json.loads((tmp_path / "out" / "session.json").read_text(encoding="utf-8"))
    assert told["ended"] == "nobody in view"


def test_a_disk_that_stays_full_is_told_last(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert replayed(tmp_path, monkeypatch, set(range(2, 99))) == 3
    assert "No space left on device" in capsys.readouterr().err
    told = json.loads((tmp_path / "out" / "session.json").read_text(encoding="utf-8"))
    assert told["ended"] == "running", "what was written before is whole"
    assert (tmp_path / "out" / "steps.csv").exists()
