"""What a command imports: lists and help need not wait for what only a session takes."""

from __future__ import annotations

import argparse
import gc
import importlib
import json
import pkgutil
import subprocess
import sys
from pathlib import Path

import pytest

import station.commands
from station.commands.main import COMMANDS, main

ASKED = """
import json, sys
from station.commands.main import main
main(["--help"])
help_only = sorted(sys.modules)
main(["visits", "--records", sys.argv[1]])
json.dump([help_only, sorted(sys.modules)], sys.stderr)
"""
SLOW = {"alembic", "av", "cv2", "mediapipe", "numpy", "pyarrow", "pydantic", "pygame", "scipy",
        "sounddevice"}  # fmt: skip


def test_neither_the_overview_nor_a_list_of_visits_imports_what_a_session_needs(
    tmp_path: Path,
) -> None:
    (tmp_path / "records").mkdir()
    arguments = ["visits", "--records", str(tmp_path / "records")]
    assert main(arguments) == 0  # makes the database, which imports the migrations
    root = Path(__file__).resolve().parents[2]
    done = subprocess.run(
        [sys.executable, "-c", ASKED, arguments[-1]],
        capture_output=True, text=True, check=True, cwd=root,
    )  # fmt: skip
    overview, visits = (set(names) for names in json.loads(done.stderr))
    assert "usage: station" in done.stdout
    assert "No visit is on record" in done.stdout
    assert not overview & (SLOW | {"rich", "sqlalchemy"})
    assert "sqlalchemy" in visits
    assert not visits & SLOW


FILMED = """
import json, sys
from pathlib import Path
import station.commands.run
from station.commands.screens import open_screen
from station.commands.simulated import demo_bay, demo_scenario
told, paths = [], (Path("film.mp4"), Path("still.png"))
for video in (False, True):
    told.append("av" in sys.modules)
    screen = open_screen(False, video, demo_bay(demo_scenario()), *paths, True)
    assert (screen is not None) == video
told.append("av" in sys.modules)
json.dump(told, sys.stdout)
"""


def test_what_makes_films_is_imported_for_a_film_and_before_anything_sounds() -> None:
    root = Path(__file__).resolve().parents[2]
    done = subprocess.run(
        [sys.executable, "-c", FILMED], capture_output=True, text=True, check=True, cwd=root
    )
    assert json.loads(done.stdout) == [False, False, True]


def test_the_overview_has_a_line_for_every_command(capsys: pytest.CaptureFixture[str]) -> None:
    modules = [m.name for m in pkgutil.iter_modules(station.commands.__path__) if not m.ispkg]
    made = [
        name
        for name in modules
        if "def add_parser(" in Path(station.commands.__path__[0], f"{name}.py").read_text()
    ]
    assert sorted(made) == sorted(COMMANDS)
    assert main(["--help"]) == 0
    said = capsys.readouterr().out
    for name, line in COMMANDS.items():
        assert f"    {name}" in said
        assert line.split()[0] in said


@pytest.mark.parametrize("name", COMMANDS)
def test_each_module_adds_the_command_of_its_own_name(name: str) -> None:
    commands = argparse.ArgumentParser().add_subparsers()
    importlib.import_module(f"station.commands.{name}").add_parser(commands)
    assert list(commands.choices) == [name]
    assert commands.choices[name].get_default("run") is not None


@pytest.mark.parametrize("arguments", [["plans"], ["visits", "--most", "none"], ["no command"]])
def test_garbage_is_searched_for_again_once_a_command_is_imported(arguments: list[str]) -> None:
    main(arguments)
    assert gc.isenabled()
