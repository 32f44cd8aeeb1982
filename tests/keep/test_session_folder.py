"""The session's folder: made, checked, never shared with an earlier session."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from station.errors import BadInput
from station.keep import open_folder


def test_makes_the_folder_and_leaves_nothing_in_it(tmp_path: Path) -> None:
    folder = open_folder(tmp_path / "out" / "a")
    assert folder.path.is_dir()
    assert list(folder.path.iterdir()) == []


def test_a_folder_with_other_things_in_it_will_do(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("x")
    assert open_folder(tmp_path).path == tmp_path
    assert (tmp_path / "notes.txt").exists()


@pytest.mark.parametrize("inside", ["", "deeper"])
def test_a_file_in_the_way_is_told(tmp_path: Path, inside: str) -> None:
    file = tmp_path / "file"
    file.write_text("x")
    with pytest.raises(BadInput, match="name a folder"):
        open_folder(file / inside if inside else file)


def test_a_folder_that_cannot_be_made_is_told() -> None:
    with pytest.raises(BadInput, match=r"--out /proc/nowhere"):
        open_folder(Path("/proc/nowhere"))


@pytest.mark.parametrize("name", ["steps.csv", "session.json", "truth.csv", "screen.mp4"])
@pytest.mark.parametrize("replace_demo", [False, True])
def test_an_earlier_session_is_never_overwritten(
    tmp_path: Path, name: str, replace_demo: bool
) -> None:
    (tmp_path / name).write_text("{}")
    with pytest.raises(BadInput, match=f"earlier session .*{name}"):
        open_folder(tmp_path, replace_demo)
    assert (tmp_path / name).read_text() == "{}"


def earlier(folder: Path, source: str) -> None:
    (folder / "session.json").write_text(json.dumps({"source": source}))
    (folder / "steps.csv").write_text("step\n")


def test_a_demo_replaces_a_demo(tmp_path: Path) -> None:
    earlier(tmp_path, "demo")
    (tmp_path / "notes.txt").write_text("x")
    open_folder(tmp_path, replace_demo=True)
    assert [p.name for p in tmp_path.iterdir()] == ["notes.txt"]


@pytest.mark.parametrize(("source", "replace_demo"), [("camera", True), ("demo", False)])
def test_but_nothing_else(tmp_path: Path, source: str, replace_demo: bool) -> None:
    earlier(tmp_path, source)
    with pytest.raises(BadInput, match="earlier session"):
        open_folder(tmp_path, replace_demo)


def test_a_folder_made_for_nothing_is_taken_away(tmp_path: Path) -> None:
    made = open_folder(tmp_path / "new")
    made.discard_if_empty()
    assert not made.path.exists()


def test_a_folder_that_was_there_or_holds_something_stays(tmp_path: Path) -> None:
    open_folder(tmp_path).discard_if_empty()
    assert tmp_path.is_dir()
    made = open_folder(tmp_path / "new")
    made.steps.write_text("step\n")
    made.discard_if_empty()
    assert made.steps.exists()
