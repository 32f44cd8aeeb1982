from __future__ import annotations

import os
import stat
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest

from station.errors import BadInput
from station.settings import read_bay
from station.settings.bay_writing import TEMPLATE, bay_text, write_bay
from station.settings.resources import resource
from station.values import Bay, ViewProfile

NOW = datetime(2026, 11, 26, 9, 30, 0)
SET_UP = Bay(
    device="/dev/video2", fps=60.0, exposure_s=0.004, volume=0.8, screen_diagonal_m=0.81,
    viewing_distance_m=2.2, records_folder="~/records",
    view=ViewProfile("left", 361.27, ((192.5, 640.0), (1088.0, 638.5)), 1280, 720, -1.24),
)  # fmt: skip
KEYS = (
    "camera.device", "camera.fps", "camera.exposure_ms", "camera.roll_deg", "view.runner_faces",
    "view.px_per_m", "view.belt_line", "view.width", "view.height", "sound.volume",
    "screen.diagonal_m", "screen.viewing_distance_m", "records.folder",
)  # fmt: skip


def test_a_new_profile_is_the_shipped_one_with_its_comments(tmp_path: Path) -> None:
    path = tmp_path / "made" / "bay.toml"
    assert write_bay(path, SET_UP, KEYS, NOW) is None
    read = read_bay(path)
    assert replace(read, name="Bay", belt_speed_limit_mps=None) == replace(SET_UP, name="Bay")
    shipped = resource(TEMPLATE).read_text(encoding="utf-8")
    text = path.read_text(encoding="utf-8")
    assert len(text.splitlines()) == len(shipped.splitlines())
    for line in shipped.splitlines():
        comment = line.partition("#")[2].strip().partition("#")[2] or line.partition("#")[2]
        assert comment.strip() in text


def test_a_key_takes_its_commented_examples_place(tmp_path: Path) -> None:
    text = bay_text(resource(TEMPLATE).read_text(encoding="utf-8"), SET_UP, ["view.px_per_m"])
    assert "\npx_per_m = 361.27       # pixels per metre" in text
    assert "# px_per_m" not in text
    assert "# belt_line" in text


def test_a_persons_comments_order_and_spelling_stay(tmp_path: Path) -> None:
    before = (
        "# ours, do not touch\nname = 'Room 4'   # by the window\n\n[view]\nrunner_faces = 'left'\n"
        "# width was wrong once\nwidth = 1280\nheight = 720\npx_per_m = 350.0  # rod of 1.2 m\n"
        "\n[camera]\nfps = 60\n"
    )
    after = bay_text(before, SET_UP, ["view.px_per_m", "view.width", "camera.fps"])
    assert after == before.replace("350.0", "361.27")


def test_a_key_that_is_unset_goes(tmp_path: Path) -> None:
    before = "[camera]\nexposure_ms = 4.0 # short\nfps = 60\n"
    assert bay_text(before, Bay(), ["camera.exposure_ms"]) == "[camera]\nfps = 60\n"
    assert bay_text("name = 'x'\n", Bay(), ["records.folder"]) == "name = 'x'\n"


def test_a_table_that_is_missing_is_made() -> None:
    text = bay_text("name = 'x'\n", SET_UP, ["records.folder"])
    assert '[records]\nfolder = "~/records"' in text


def test_the_profile_before_is_kept_each_time(tmp_path: Path) -> None:
    path = tmp_path / "bay.toml"
    path.write_text("name = 'one'\n", encoding="utf-8")
    path.chmod(0o640)
    kept = write_bay(path, replace(SET_UP, fps=50.0), ["camera.fps"], NOW)
    again = write_bay(path, replace(SET_UP, fps=30.0), ["camera.fps"], NOW)
    assert kept is not None
    assert again is not None
    assert kept != again
    assert kept.read_text(encoding="utf-8") == "name = 'one'\n"
    assert "fps = 50" in again.read_text(encoding="utf-8")
    assert read_bay(path).fps == 30.0
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    assert len(list(tmp_path.iterdir())) == 3


def test_nothing_new_writes_nothing(tmp_path: Path) -> None:
    path = tmp_path / "bay.toml"
    path.write_text("[camera]\nfps = 60\n", encoding="utf-8")
    assert write_bay(path, SET_UP, ["camera.fps"], NOW) is None
    assert list(tmp_path.iterdir()) == [path]


def test_a_profile_with_mistakes_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "bay.toml"
    path.write_text("[camera]\nfps = 'fast'\n", encoding="utf-8")
    with pytest.raises(BadInput, match="fps"):
        write_bay(path, SET_UP, KEYS, NOW)
    assert path.read_text(encoding="utf-8") == "[camera]\nfps = 'fast'\n"
    assert list(tmp_path.iterdir()) == [path]


def test_what_would_be_no_valid_profile_is_not_written(tmp_path: Path) -> None:
    path = tmp_path / "bay.toml"
    path.write_text("name = 'one'\n", encoding="utf-8")
    with pytest.raises(BadInput):
        write_bay(path, SET_UP, ["view.px_per_m"], NOW)  # without the pictures' size
    assert path.read_text(encoding="utf-8") == "name = 'one'\n"
    assert list(tmp_path.iterdir()) == [path]


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(BadInput, match="cannot be written"):
        write_bay(tmp_path / "file" / "bay.toml", SET_UP, KEYS, NOW)


def test_a_disk_that_fills_leaves_the_profile(tmp_path: Path, monkeypatch) -> None:
    path = tmp_path / "bay.toml"
    path.write_text("name = 'one'\n", encoding="utf-8")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    with pytest.raises(BadInput, match="No space left"):
        write_bay(path, SET_UP, ["camera.fps"], NOW)
    assert path.read_text(encoding="utf-8") == "name = 'one'\n"
    assert [one for one in tmp_path.iterdir() if one.name.startswith(".")] == []
