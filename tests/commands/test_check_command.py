"""`station check` as a whole: its table, its exit codes, and that nothing stops it half-way."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path

import pytest
from rich.console import Console

from station.commands import check
from station.commands.checks.finding import (
    Finding,
    Verdict,
    device_fault,
    exit_code,
    guarded,
    table,
)
from station.commands.main import main
from station.errors import BadInput, DeviceTrouble
from station.sound.choose import open_speaker

BAD = Finding("disk", "full", "fault", exit_code=2)


@pytest.mark.parametrize(
    ("findings", "code"),
    [
        ([], 0),
        ([Finding("a", "b", "look"), Finding("a", "b", "unchecked")], 0),
        ([device_fault("a", "b", "c")], 3),
        ([BAD], 2),
        ([BAD, device_fault("a", "b", "c")], 3),
        ([Finding("a", "b", "fault", exit_code=1), device_fault("a", "b", "c")], 1),
    ],
)
def test_exit_codes(findings: list[Finding], code: int) -> None:
    assert exit_code(findings) == code


@pytest.mark.parametrize("encoding", ["utf-8", "ascii", "latin-1"])
def test_the_table_is_written_in_any_encoding(encoding: str) -> None:
    raw = io.BytesIO()
    out = io.TextIOWrapper(raw, encoding=encoding)
    console = Console(file=out, width=100)
    verdicts: tuple[Verdict, ...] = ("well", "look", "fault", "unchecked")
    console.print(table([Finding("[x]", "found it", v, "do this") for v in verdicts], console))
    out.flush()
    text = raw.getvalue().decode(encoding)
    for word in ("well", "look at it", "fault", "not checked", "[x]", "do this"):
        assert word in text
    assert ("✓ well" if encoding == "utf-8" else "+ well") in text


def test_a_long_path_is_told_whole() -> None:
    path = "/a/" + "very-long-folder-name/" * 6
    console = Console(file=io.StringIO(), width=80)
    console.print(table([Finding("disk", path)], console))
    text = console.file.getvalue()  # type: ignore[attr-defined]
    column = "".join(line.split("│")[2].strip() for line in text.splitlines() if "│" in line)
    assert column == path


@pytest.mark.parametrize(
    ("fault", "code"), [(DeviceTrouble("lost"), 3), (BadInput("no"), 2), (ValueError("oh\nno"), 1)]
)
def test_what_a_check_meets_becomes_a_finding(fault: Exception, code: int) -> None:
    def fail() -> list[Finding]:
        raise fault

    traces: list[Exception] = []
    (finding,) = guarded("camera", fail, traces.append)
    assert (finding.what, finding.verdict, finding.exit_code) == ("camera", "fault", code)
    assert traces == ([fault] if code == 1 else [])
    assert "\n" not in finding.found


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    return tmp_path


@pytest.mark.timeout(120)
def test_the_demo_is_checked_with_the_real_model(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["check", "--source", "demo", "--headless", "--mute", "--seconds", "0.5"]) == 0
    said = capsys.readouterr()
    for words in (
        "pictures a second of 30", "1280 x 720", "% bright", "px wide", "ms a picture",
        "whole, legs", "square to the belt", "taken as level", "GB free", "--mute", "--headless",
    ):  # fmt: skip
        assert words in said.out
    assert "Traceback" not in said.err
    assert list(here.iterdir()) == [], "nothing is written"


@pytest.mark.timeout(120)
@pytest.mark.usefixtures("lent_model")
def test_a_missing_camera_is_exit_3_and_all_else_is_checked(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bay = here / "bay.toml"
    bay.write_text('[camera]\ndevice = "/dev/video63"\n')
    arguments = ["check", "--bay", str(bay), "--headless", "--mute", "--seconds", "0.5"]
    assert main(arguments) == 3
    said = capsys.readouterr().out
    assert "/dev/video63 is not there" in " ".join(said.split())
    assert "ms a picture" in said
    assert "GB free" in said
    assert "1 fault" in said


@pytest.mark.parametrize(
    "arguments",
    [
        ["--bay", "none.toml"], ["--source", "none.mp4"], ["--seconds", "0"],
        ["--seconds", "0.1"], ["--seconds", "x"], ["--source", ""], ["more"],
    ],
)  # fmt: skip
def test_bad_input_is_exit_2_at_once(
    here: Path, capsys: pytest.CaptureFixture[str], arguments: list[str]
) -> None:
    assert main(["check", "--headless", "--mute", *arguments]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert "Traceback" not in said.err


def quick(monkeypatch: pytest.MonkeyPatch, camera: Callable[..., object]) -> None:
    monkeypatch.setattr(check, "watch", camera)
    monkeypatch.setattr(check._Bench, "_model", lambda self: [Finding("pose model", "quick")])


def test_one_check_that_fails_does_not_hide_the_others(
    here: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def break_down(*_: object) -> None:
        raise ZeroDivisionError("a wheel fell off")

    quick(monkeypatch, break_down)
    assert main(["check", "--source", "demo", "--headless", "--mute"]) == 1
    said = capsys.readouterr()
    assert "a wheel fell off" in said.out
    assert "GB free" in said.out
    assert "Traceback" not in said.err
    assert main(["--debug", "check", "--source", "demo", "--headless", "--mute"]) == 1
    assert "ZeroDivisionError" in capsys.readouterr().err


def test_ctrl_c_tells_what_was_found_so_far_and_is_not_all_well(
    here: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def press(*_: object) -> None:
        raise KeyboardInterrupt

    quick(monkeypatch, press)
    assert main(["check", "--source", "demo", "--headless", "--mute"]) == 1
    said = capsys.readouterr().out
    assert "--mute: nothing played" in said
    assert "before all was checked" in said


def test_the_speaker_is_opened_as_a_session_opens_it(
    here: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    opened: list[tuple[object, ...]] = []

    def silent(clock: object, *given: object) -> object:
        opened.append(given)
        return open_speaker(clock, silent=True)  # type: ignore[arg-type]

    monkeypatch.setattr("station.sound.choose.open_speaker", silent)
    quick(monkeypatch, lambda *_: (_ for _ in ()).throw(DeviceTrouble("no camera")))
    (here / "bay.toml").write_text('[sound]\nspeaker = "USB"\nvolume = 0.3\nlatency_ms = 80\n')
    arguments = ["check", "--bay", "bay.toml", "--source", "demo", "--headless"]
    assert main(arguments) == 3
    assert opened[0][:4] == ("USB", 0.3, False, False)
    assert opened[0][5] == 0.08
    assert "nobody should be running" in capsys.readouterr().err
