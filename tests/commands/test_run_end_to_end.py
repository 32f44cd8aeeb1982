"""Whole sessions through the command line, with the real pose model."""

from __future__ import annotations

import csv
import json
import signal
from pathlib import Path

import cv2
import pytest

from station.commands.main import main
from station.keep import STEP_COLUMNS
from station.live import Session
from station.values import Pose


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder of five seconds of the demo, run once for this file."""
    out = tmp_path_factory.mktemp("demo") / "out"
    assert main(["demo", "--fast", "--headless", "--seconds", "5", "--out", str(out)]) == 0
    return out


@pytest.mark.timeout(180)
def test_the_demo_writes_all_its_files(demo: Path) -> None:
    assert {p.name for p in demo.iterdir()} == {
        "steps.csv", "session.json", "truth.csv", "screen.mp4", "sound.wav", "still.png",
    }  # fmt: skip
    session = json.loads((demo / "session.json").read_text(encoding="utf-8"))
    assert session["ended"] == "time is up"
    assert session["source"] == "demo"
    assert session["plan"]["name"] == "Ninety seconds"
    assert session["versions"]["mediapipe"] == "0.10.21"
    assert session["frames"]["dropped"] == 0
    assert session["frames"]["tracked_share"] > 0.95
    told = {"sounded", "withheld_by_gap", "withheld_at_random", "stale"}
    assert set(session["cues"]) == told
    assert session["frames"]["detected_anew"] <= 2  # a clear picture seldom gets it stuck
    assert session["drills"][0]["landings"] == len(rows(demo / "steps.csv")) == session["steps"]


def test_the_demo_finds_the_runners_true_contacts(demo: Path) -> None:
    found = rows(demo / "steps.csv")
    assert tuple(found[0]) == STEP_COLUMNS
    assert len(found) >= 5  # of about 13 in five seconds; the view is learned in the first two
    true = [(float(row["t_contact_s"]), row["side"]) for row in rows(demo / "truth.csv")]
    for row in found:
        t_s = float(row["t_contact_s"])
        nearest_s, side = min(true, key=lambda one: abs(one[0] - t_s))
        assert abs(nearest_s - t_s) < 0.045  # pictures are 33 ms apart
        assert row["side"] == side
        assert row["near"] == ("true" if side == "right" else "false")


def test_the_demo_recorded_the_screen(demo: Path) -> None:
    video = cv2.VideoCapture(str(demo / "screen.mp4"))
    try:
        assert video.get(cv2.CAP_PROP_FRAME_COUNT) == pytest.approx(150, abs=2)
        assert video.get(cv2.CAP_PROP_FPS) == pytest.approx(30.0)
        got, image = video.read()
    finally:
        video.release()
    assert got
    assert image.shape == (720, 1280, 3)
    assert image.std() > 20  # a picture, not a plain ground


@pytest.mark.timeout(180)
@pytest.mark.usefixtures("lent_model")
def test_the_demo_is_repeatable_in_its_folder(demo: Path) -> None:
    before = (demo / "truth.csv").read_text()
    assert main(["demo", "--fast", "--headless", "--seconds", "1", "--out", str(demo)]) == 0
    after = (demo / "truth.csv").read_text()
    assert before.startswith(after)
    assert len(after) < len(before)


def test_but_no_other_command_replaces_it(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    arguments = ["run", "--source", "demo", "--fast", "--headless", "--out", str(demo)]
    assert main(arguments) == 2
    assert "earlier session" in capsys.readouterr().err


@pytest.mark.timeout(180)
@pytest.mark.usefixtures("lent_model")
def test_ctrl_c_ends_with_everything_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    take = Session.take

    def take_and_press(self: Session, pose: Pose) -> bool:
        if pose.index == 20:
            signal.raise_signal(signal.SIGINT)
        return take(self, pose)

    monkeypatch.setattr(Session, "take", take_and_press)
    out = tmp_path / "out"
    assert main(["run", "--source", "demo", "--fast", "--headless", "--out", str(out)]) == 0
    session = json.loads((out / "session.json").read_text(encoding="utf-8"))
    assert session["ended"] == "Ctrl-C"
    assert session["frames"]["captured"] == 21
    assert (out / "truth.csv").exists()
    assert "Ended: Ctrl-C" in capsys.readouterr().out


@pytest.mark.timeout(180)
@pytest.mark.usefixtures("lent_model")
def test_a_live_run_by_the_clock(tmp_path: Path) -> None:
    """Threads, real time, no sound and no window: it ends by itself and leaves nothing running."""
    out = tmp_path / "out"
    arguments = ["run", "--source", "demo", "--headless", "--mute", "--seconds", "0.7"]
    assert main([*arguments, "--out", str(out)]) == 0
    session = json.loads((out / "session.json").read_text(encoding="utf-8"))
    assert session["ended"] == "time is up"
    assert session["sound"] == "silent"
    assert "Sound is off, as asked." in session["notices"]
    assert 1 <= session["frames"]["captured"] <= 23


@pytest.mark.usefixtures("lent_model")
def test_a_camera_that_is_not_there(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "out"
    arguments = ["run", "--source", "/dev/video99", "--headless", "--mute", "--out", str(out)]
    assert main(arguments) == 3
    shown = capsys.readouterr()
    assert "/dev/video99" in shown.err
    assert "Traceback" not in shown.err
    assert not out.exists()


def test_a_fault_in_the_middle_keeps_what_was_measured(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str],
    shared_data: Path,
) -> None:  # fmt: skip
    take = Session.take

    def take_and_fail(self: Session, pose: Pose) -> bool:
        if pose.index == 240:
            raise ZeroDivisionError("a wheel fell off")
        return take(self, pose)

    monkeypatch.setattr(Session, "take", take_and_fail)
    out = tmp_path / "out"
    trace = shared_data / "treadmill_running" / "trace.csv"
    arguments = ["replay", str(trace), "--belt-speed", "2.5 m/s", "--out", str(out)]
    assert main(arguments) == 1
    assert "a wheel fell off" in capsys.readouterr().err
    session = json.loads((out / "session.json").read_text(encoding="utf-8"))
    assert session["ended"] == "error: a wheel fell off"
    assert len(rows(out / "steps.csv")) == session["steps"]
    assert "ZeroDivisionError" in (out / "crash.txt").read_text()


def test_replay_of_a_real_runners_trace(tmp_path: Path, shared_data: Path) -> None:
    out = tmp_path / "out"
    trace = shared_data / "treadmill_running" / "trace.csv"
    arguments = ["replay", str(trace), "--belt-speed", "2.5 m/s", "--out", str(out)]
    assert main(arguments) == 0
    session = json.loads((out / "session.json").read_text(encoding="utf-8"))
    assert session["ended"] == "end of the recording"
    assert session["drills"][0]["name"] == "Free run"
    assert session["drills"][0]["belt_speed_mps"] == 2.5
    # the force plate under this runner says 156.8 steps per minute (check values, section 13)
    assert session["drills"][0]["step_rate_spm"] == pytest.approx(156.8, abs=2.0)
    assert not (out / "screen.mp4").exists()
    assert not (out / "truth.csv").exists()
