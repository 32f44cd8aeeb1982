import os
from pathlib import Path

import pytest

from station.keep.records_folder import look_at, records_folder


def test_the_folder_is_as_told_or_the_users_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    assert records_folder("~/records") == tmp_path / "records"
    monkeypatch.delenv("XDG_DATA_HOME", raising=False)
    assert records_folder(None) == tmp_path / ".local" / "share" / "landing-station"
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    assert records_folder(None) == tmp_path / "data" / "landing-station"


def test_a_folder_that_is_there_can_be_written_and_nothing_is_left_in_it(tmp_path: Path) -> None:
    room = look_at(tmp_path)
    assert (room.trouble, room.there) == (None, True)
    assert room.free_bytes is not None
    assert room.free_bytes > 0
    assert list(tmp_path.iterdir()) == []


def test_a_missing_folder_is_not_made(tmp_path: Path) -> None:
    room = look_at(tmp_path / "a" / "b")
    assert (room.trouble, room.there) == (None, False)
    assert list(tmp_path.iterdir()) == []


def test_a_file_is_no_folder(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    for path in (tmp_path / "file", tmp_path / "file" / "deeper"):
        assert look_at(path).trouble is not None


def test_a_disk_that_refuses_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(**_: object) -> None:
        raise OSError(28, os.strerror(28))

    monkeypatch.setattr("tempfile.TemporaryFile", refuse)
    trouble = look_at(tmp_path).trouble
    assert trouble is not None
    assert "No space left" in trouble
