"""What the command line refuses, with its exit codes and words: never a traceback."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest

from station import __version__
from station.coach.feedback import FeedbackRule
from station.commands import perform
from station.commands import plans as plans_command
from station.commands.main import main
from station.commands.options import check_runner, free_run, out_folder
from station.errors import BadInput
from station.settings.smallest_change import smallest_sizes
from station.sound import choose
from station.sound.tones import Voicing


def failing(arguments: Sequence[str], capsys: pytest.CaptureFixture[str], code: int = 2) -> str:
    """Run, expect the exit code and one message on the error stream; return it."""
    assert main(arguments) == code
    shown = capsys.readouterr()
    assert shown.out == ""
    assert "Traceback" not in shown.err
    return shown.err


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Work in an empty folder, so that nothing lands in the checkout."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


def write(path: Path, text: str) -> str:
    path.write_text(text, encoding="utf-8")
    return str(path)


def test_version(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--version"]) == 0
    assert capsys.readouterr().out == f"station {__version__}\n"


@pytest.mark.parametrize("command", ["", "demo", "run", "replay", "plans"])
def test_help(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*filter(None, [command]), "--help"]) == 0
    said = capsys.readouterr().out
    assert "usage: station" in said
    if not command:
        assert "examples:" in said
        assert all(name in said for name in ("demo", "run", "replay", "plans"))


@pytest.mark.parametrize(
    "arguments",
    [[], ["nonsense"], ["run", "--nonsense"], ["run", "--seconds", "0"],
     ["run", "--seconds", "soon"], ["replay"]],
)  # fmt: skip
def test_wrong_arguments(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert "usage: station" in failing(arguments, capsys)


def clip_of(path: Path, kind: str) -> str:
    """Make a file that is no clip, in one of many ways."""
    if kind == "empty":
        path.write_bytes(b"")
    elif kind == "no video":
        path.write_bytes(b"this is a letter, not a film " * 40)
    elif kind == "still":
        path = path.with_suffix(".png")
        cv2.imwrite(str(path), np.zeros((64, 64, 3), np.uint8))
    elif kind == "folder":
        path.mkdir()
    return str(path)


@pytest.mark.parametrize(
    ("kind", "words"),
    [("missing", "no file"), ("empty", "empty"), ("no video", "not a video"),
     ("still", "still picture"), ("folder", "is a folder")],
)  # fmt: skip
def test_sources_that_are_no_clip(
    here: Path, capsys: pytest.CaptureFixture[str], kind: str, words: str
) -> None:
    source = clip_of(here / "clip.mp4", kind)
    said = failing(["run", "--source", source, "--fast", "--headless"], capsys)
    assert said.startswith("station: ")
    assert words in said
    assert "allowed is a video file" in said
    assert not (here / "out").exists()


def test_an_empty_source(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "--source is empty" in failing(["run", "--source", " ", "--fast"], capsys)


def test_a_camera_has_its_own_pace(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "a camera has its own pace" in failing(["run", "--source", "0", "--fast"], capsys)


@pytest.mark.parametrize("option", ["--plan", "--bay"])
@pytest.mark.parametrize("command", [["run", "--source", "demo"], ["replay", "x.csv"]])
@pytest.mark.parametrize(
    ("text", "words"),
    [(None, "there is no such file"), ("", "the file is empty"), ("name = [", "not valid TOML"),
     ("nam = 1\n", "no such key")],
)  # fmt: skip
def test_settings_files_with_mistakes(
    here: Path, capsys: pytest.CaptureFixture[str], command: list[str], option: str,
    text: str | None, words: str,
) -> None:  # fmt: skip
    file = here / "mine.toml"
    if text is not None:
        write(file, text)
    said = failing([*command, option, str(file)], capsys)
    assert words in said
    assert "mine.toml" in said


def test_a_plan_that_is_neither_file_nor_shipped(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    said = failing(["run", "--source", "demo", "--plan", "nonsuch"], capsys)
    assert "no shipped plan" in said
    assert "first-visit" in said


def test_a_plan_beyond_the_bays_limit(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bay = write(here / "bay.toml", 'name = "B"\n[limits]\nbelt_speed = "5 mph"\n')
    said = failing(["run", "--source", "demo", "--plan", "demo", "--bay", bay], capsys)
    assert "up to 5 mph" in said


def test_belt_speed_and_plan_contradict(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    arguments = ["run", "--source", "demo", "--plan", "demo", "--belt-speed", "6 mph"]
    assert "--belt-speed goes with a free run" in failing(arguments, capsys)


@pytest.mark.parametrize("speed", ["fast", "6", "90 mph", "-3 km/h"])
def test_belt_speeds_that_are_none(
    here: Path, capsys: pytest.CaptureFixture[str], speed: str
) -> None:
    said = failing(["replay", "x.csv", f"--belt-speed={speed}"], capsys)
    assert "--belt-speed" in said
    assert "allowed" in said


@pytest.mark.parametrize("code", ["", "Jane Doe", "abc", "A" * 17, "A_1", "A1\n"])
def test_runners_are_codes(code: str) -> None:
    with pytest.raises(BadInput, match="a code, not a name"):
        check_runner(code)


@pytest.mark.parametrize("code", [None, "A", "R-07", "0123456789ABCDEF"])
def test_runners_codes(code: str | None) -> None:
    assert check_runner(code) == code


HEADER = (
    "t_s,left_knee_x,left_knee_y,left_ankle_x,left_ankle_y,left_heel_x,left_heel_y,"
    "left_foot_index_x,left_foot_index_y,right_knee_x,right_knee_y,right_ankle_x,right_ankle_y,"
    "right_heel_x,right_heel_y,right_foot_index_x,right_foot_index_y"
)


@pytest.mark.parametrize(
    ("text", "words"),
    [(None, "trace.csv"), ("", "empty"), ("t_s,left_knee_x\n0,1\n", "left_ankle"),
     (HEADER + "\n", "no rows"), (HEADER + "\n0" + ",abc" * 16 + "\n", "line 2")],
)  # fmt: skip
def test_traces_that_cannot_be_used(
    here: Path, capsys: pytest.CaptureFixture[str], text: str | None, words: str
) -> None:
    if text is not None:
        write(here / "trace.csv", text)
    assert words in failing(["replay", "trace.csv"], capsys)
    assert list(here.glob("out/*")) == []


def test_out_that_is_a_file_or_a_sessions_folder(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    trace = write(here / "trace.csv", HEADER + "\n0" + ",1" * 16 + "\n")
    said = failing(["replay", trace, "--out", trace], capsys)
    assert "this is a file" in said
    write(here / "steps.csv", "kept")
    said = failing(["replay", trace, "--out", str(here)], capsys)
    assert "earlier session" in said
    assert (here / "steps.csv").read_text() == "kept"


def test_a_trace_without_anybody_is_nothing_usable_but_written(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = "".join(f"{i / 30:.4f}{',' * 16}\n" for i in range(30))
    trace = write(here / "trace.csv", f"{HEADER}\n{rows}")
    said = failing(["replay", trace, "--out", "gone"], capsys)
    assert "nobody in view" in said
    session = json.loads((here / "gone" / "session.json").read_text())
    assert session["ended"] == "nobody in view"
    assert session["frames"]["captured"] == 30
    assert (here / "gone" / "steps.csv").exists()


def test_the_bays_sound_reaches_speaker_and_cues(
    here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    bay = write(
        here / "bay.toml",
        "[sound]\nvolume = 0.5\nbeat_level = 0.4\ncue_level = 0.3\ncue_gap_s = 1.5\n"
        'beat_feet = "pitch"\nlatency_ms = 80\n',
    )
    rows = "".join(f"{i / 30:.4f}{',' * 16}\n" for i in range(30))
    trace = write(here / "trace.csv", f"{HEADER}\n{rows}")
    opened: list[tuple[object, ...]] = []
    rules: list[FeedbackRule | None] = []
    real_open, real_coaching = choose.open_speaker, perform.Coaching

    def open_speaker(*given: Any) -> Any:
        opened.append(given[1:])
        return real_open(*given)

    def coaching(*given: Any, rule: FeedbackRule | None = None, **more: Any) -> Any:
        rules.append(rule)
        return real_coaching(*given, rule=rule, **more)

    monkeypatch.setattr(choose, "open_speaker", open_speaker)
    monkeypatch.setattr(perform, "Coaching", coaching)
    main(["replay", trace, "--bay", bay, "--out", "out"])
    assert opened == [(None, 0.5, True, False, Voicing(0.4, 0.3, "pitch"), 0.08)]
    (rule,) = rules
    assert rule is not None
    assert rule.least_gap_s == 1.5
    bounce = smallest_sizes()["vertical_oscillation_m"]
    assert rule.sentence.corrections.posture.bounce_change_m == bounce


def test_plans_are_listed(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plans"]) == 0
    said = capsys.readouterr().out
    assert "Ninety seconds" in said
    assert "180 spm" in said


def test_all_mistakes_of_all_plans_at_once(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    rest = 'name = "G"\n[[drill]]\nname = "d"\nkind = "rest"\nseconds = 5\n'
    good = write(here / "good.toml", rest)
    one = write(here / "one.toml", 'name = "A"\n[[drill]]\nname = "d"\nkind = "jog"\n')
    two = write(here / "two.toml", "name = 3\n")
    assert main(["plans", good, one, two, "three.toml"]) == 2
    shown = capsys.readouterr()
    assert "good.toml" in shown.out
    for words in ("one.toml", '"jog"', "two.toml", "drill", "three.toml"):
        assert words in shown.err


def test_a_fault_of_ours_is_one_line_and_a_file(
    here: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(args: object) -> int:
        args.session_folder = here  # type: ignore[attr-defined]
        raise ZeroDivisionError("a wheel fell off")

    monkeypatch.setattr(plans_command, "run", broken)
    said = failing(["plans"], capsys, 1)
    assert "ZeroDivisionError: a wheel fell off" in said
    assert len(said.splitlines()) == 1
    assert "Traceback" in (here / "crash.txt").read_text()
    monkeypatch.setattr(plans_command, "run", broken)
    assert main(["--debug", "plans"]) == 1
    assert "Traceback" in capsys.readouterr().err


@pytest.mark.parametrize(("begun", "code"), [(False, 0), (True, 1)])
def test_ctrl_c_before_and_within_a_session(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, begun: bool, code: int
) -> None:
    def pressed(args: object) -> int:
        args.session_folder = Path("x") if begun else None  # type: ignore[attr-defined]
        raise KeyboardInterrupt

    monkeypatch.setattr(plans_command, "run", pressed)
    assert "Ctrl-C" in failing(["plans"], capsys, code)


def test_nobody_reads_our_output() -> None:
    """A closed pipe is quiet (its own process: the test's output must stay whole)."""
    code = "import sys; from station.commands.main import main; sys.exit(main(['plans']))"
    root = Path(__file__).resolve().parents[2]
    with subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=root
    ) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        said = process.stderr.read()
        assert process.wait(30) == 0
    assert said == b""


def test_a_default_folder_is_new_each_time(here: Path) -> None:
    import argparse
    from datetime import datetime

    args = argparse.Namespace(out=None)
    now = datetime(2026, 3, 1, 9, 5, 7)
    first = out_folder(args, now)
    assert first == Path("out/20260301-090507")
    first.mkdir(parents=True)
    assert out_folder(args, now) == Path("out/20260301-090507-2")


def test_a_free_run_has_no_end_and_keeps_the_speed_as_written() -> None:
    (drill,) = free_run("10:00 min/mile").drills
    assert drill.seconds == float("inf")
    assert drill.belt_speed_text == "10:00 min/mile"
    assert drill.belt_speed_mps == pytest.approx(2.682, abs=1e-3)  # 6 mph
    assert free_run(None).drills[0].belt_speed_mps is None


def trace_of(path: Path, times_s: Sequence[float], first_px: float = 100.0) -> str:
    """Write a trace in which a figure stands still."""
    from station.see.trace_columns import REQUIRED

    rows = [
        [f"{t_s:.6f}", *(f"{first_px * (1.0 + 0.01 * k):.4f}" for k in range(len(REQUIRED) - 1))]
        for t_s in times_s
    ]
    lines = [",".join(REQUIRED), *(",".join(row) for row in rows)]
    return write(path, "\n".join(lines) + "\n")


def test_a_trace_without_a_step_is_nothing_usable_but_written(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    trace = trace_of(here / "still.csv", [i / 60 for i in range(120)])
    told = failing(["replay", trace, "--belt-speed", "6 mph", "--out", str(here / "out")], capsys)
    assert "no step was found" in told
    session = json.loads((here / "out" / "session.json").read_text())
    assert session["ended"] == "no step found"
    (drill,) = session["drills"]
    assert drill["why"] == "session"
    assert drill["ended_s"] == pytest.approx(119 / 60, abs=1e-5)


def test_a_trace_in_milliseconds_or_shares_is_named_so(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    trace = trace_of(here / "ms.csv", [1000 * i / 60 for i in range(30)])
    assert "milliseconds" in failing(["replay", trace], capsys)
    trace = trace_of(here / "shares.csv", [i / 60 for i in range(30)], first_px=0.5)
    assert "allowed are pixels" in failing(["replay", trace], capsys)


def test_an_unknown_option_shows_the_commands_own_usage(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["replay", "x.csv", "--nonsense"]) == 2
    told = capsys.readouterr().err
    assert told.startswith("usage: station replay")
    assert "--nonsense" in told


def test_a_bay_is_no_plan(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bay = write(here / "b.toml", 'name = "Bay 7"\n[camera]\nfps = 60\n')
    assert "looks like a bay profile" in failing(["plans", bay], capsys)


def test_a_rest_has_no_feedback(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    plan = write(here / "p.toml", 'name = "P"\n[[drill]]\nkind = "rest"\nseconds = 30\n')
    assert main(["plans", plan]) == 0
    (row,) = [line for line in capsys.readouterr().out.splitlines() if " rest " in line]
    assert "every" not in row


def test_the_package_runs_as_a_module() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "station", "--version"], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == f"station {__version__}"
