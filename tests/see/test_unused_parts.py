"""A package is imported without its parts that nobody needs; the real pose package is."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from station.see.unused_parts import without_parts

INNER = "made_up_package.slow"


@pytest.fixture
def package(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "made_up_package"
    folder.mkdir()
    (folder / "__init__.py").write_text("import made_up_package.slow as slow\n")
    (folder / "slow.py").write_text("DONE = True\n")
    monkeypatch.syspath_prepend(tmp_path)
    for name in ("made_up_package", INNER):
        monkeypatch.delitem(sys.modules, name, raising=False)


@pytest.mark.usefixtures("package")
def test_a_part_is_left_out_and_can_be_had_afterwards() -> None:
    import importlib

    with without_parts([INNER]):
        importlib.import_module("made_up_package")
    assert INNER not in sys.modules
    assert importlib.import_module(INNER).DONE


@pytest.mark.usefixtures("package")
def test_a_part_that_is_there_already_stays() -> None:
    import importlib

    slow = importlib.import_module(INNER)
    with without_parts([INNER]):
        assert sys.modules[INNER] is slow
    assert sys.modules[INNER] is slow


@pytest.mark.usefixtures("package")
def test_a_fault_in_the_block_leaves_nothing_behind() -> None:
    with pytest.raises(ZeroDivisionError), without_parts([INNER]):
        raise ZeroDivisionError
    assert INNER not in sys.modules


def test_a_session_imports_no_plotting_library_and_no_simulated_runner() -> None:
    code = (
        "import sys; from station.see.pose_graph import load_package; load_package();"
        "import station.commands.run;"
        "slow = {'matplotlib', 'mediapipe.tasks', 'scipy', 'station.simulate.gait'};"
        "print(sorted(slow & set(sys.modules)))"
    )
    root = Path(__file__).resolve().parents[2]
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=root
    )
    assert done.stdout.strip() == "[]"
