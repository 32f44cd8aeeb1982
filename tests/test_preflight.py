"""What the machine check says of machines that lack something; it runs on old Pythons."""

from __future__ import annotations

import ast
import importlib.util
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

SCRIPT = Path(__file__).resolve().parents[1] / "preflight.py"


def load() -> ModuleType:
    spec = importlib.util.spec_from_file_location("preflight", SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


preflight = load()


class Fake:
    """A machine that has all, less what a test takes away."""

    def __init__(self, **changes: object) -> None:
        self.pythons = {"python3.11": (3, 11), "python3": (3, 11)}
        self.modules = True
        self.absent: tuple[str, ...] = ()
        self.free = 50 * 1000**3
        self.processor = "x86_64"
        self.commands = ("apt-get",)
        for name, value in changes.items():
            assert hasattr(self, name)
            setattr(self, name, value)

    def version_of(self, command: str) -> tuple[int, int] | None:
        return self.pythons.get(command)

    def path_of(self, command: str) -> str:
        return f"/somewhere/{command}"

    def has_modules(self, python: str, modules: tuple[str, ...]) -> bool:
        return self.modules

    def has_library(self, python: str, name: str) -> bool:
        return name not in self.absent

    def free_bytes(self) -> int:
        return self.free

    def system(self) -> tuple[str, str]:
        return "Linux", self.processor

    def has_command(self, name: str) -> bool:
        return name in self.commands


@pytest.fixture(autouse=True)
def _no_named_python(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("PYTHON", raising=False)


def test_complete_machine_gives_its_python(capsys: pytest.CaptureFixture[str]) -> None:
    assert preflight.main([], Fake()) == 0
    out, err = capsys.readouterr()
    assert out == "/somewhere/python3.11\n"
    assert err == ""


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"pythons": {}}, "Python 3.10, 3.11 or 3.12. sudo apt-get install python3"),
        ({"pythons": {"python3": (3, 13)}}, "3.12; here python3 is 3.13."),
        ({"pythons": {"python3": (3, 9)}}, "here python3 is 3.9."),
        ({"modules": False}, "sudo apt-get install python3.11-venv"),
        ({"absent": ("libGL.so.1",)}, "libGL.so.1, which OpenCV needs. sudo apt-get install lib"),
        ({"absent": ("libgthread-2.0.so.0",)}, "sudo apt-get install libglib2.0-0"),
        ({"absent": ("libGL.so.1",), "commands": ("dnf",)}, "sudo dnf install mesa-libGL"),
        ({"absent": ("libGL.so.1",), "commands": ()}, "Debian calls it libgl1"),
        ({"free": 1_200_000_000}, "1.2 GB free, 4 GB needed"),
        ({"processor": "aarch64"}, "x86_64, here aarch64"),
    ],
)
def test_each_lack_is_named_with_its_cure(
    changes: dict[str, object], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert preflight.main([], Fake(**changes)) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert said in err
    assert err.count("\n  - ") == 1


def test_all_lacks_are_told_at_once(capsys: pytest.CaptureFixture[str]) -> None:
    bare = Fake(modules=False, absent=("libGL.so.1", "libglib-2.0.so.0"), free=0)
    assert preflight.main([], bare) == 2
    assert capsys.readouterr().err.count("\n  - ") == 4


def test_missing_portaudio_is_only_a_notice(capsys: pytest.CaptureFixture[str]) -> None:
    assert preflight.main([], Fake(absent=("libportaudio.so.2",))) == 0
    out, err = capsys.readouterr()
    assert out == "/somewhere/python3.11\n"
    assert err.startswith("notice: no PortAudio")


def test_missing_packages_are_listed_once_each(capsys: pytest.CaptureFixture[str]) -> None:
    absent = ("libGL.so.1", "libglib-2.0.so.0", "libgthread-2.0.so.0")
    assert preflight.main(["--missing-packages"], Fake(absent=absent)) == 0
    assert capsys.readouterr().out.split() == ["libgl1", "libglib2.0-0"]


def test_newest_in_range_is_chosen_before_the_plain_name() -> None:
    pythons = {"python3": (3, 13), "python3.10": (3, 10), "python3.12": (3, 12)}
    assert preflight.examine(Fake(pythons=pythons)).python == "/somewhere/python3.12"


def test_named_python_that_does_not_run_is_told(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("PYTHON", "python3.99")
    assert preflight.main([], Fake()) == 2
    assert "PYTHON=python3.99 does not run" in capsys.readouterr().err


def test_stub_on_the_path_that_fails_is_passed_over(tmp_path: Path) -> None:
    stub = tmp_path / "python3.12"
    stub.write_text("#!/bin/sh\nexit 127\n")
    stub.chmod(0o755)
    machine = preflight.Machine()
    assert machine.version_of(str(stub)) is None
    assert machine.version_of(sys.executable) == sys.version_info[:2]


def test_real_machine_is_asked_about_real_libraries() -> None:
    machine = preflight.Machine()
    assert machine.has_library(sys.executable, "libc.so.6")
    assert not machine.has_library(sys.executable, "libnot-there.so.7")
    assert not machine.has_modules(sys.executable, ("no_such_module_here",))


def test_script_runs_by_itself() -> None:
    run = subprocess.run(
        [sys.executable, str(SCRIPT), "--unknown"], capture_output=True, text=True, check=False
    )
    assert run.returncode == 2
    assert "--missing-packages" in run.stderr


def test_syntax_is_that_of_python_3_6() -> None:
    ast.parse(SCRIPT.read_text(encoding="utf-8"), feature_version=(3, 6))
