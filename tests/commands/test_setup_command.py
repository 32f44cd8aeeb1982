"""`station setup`: what it begins with, what it refuses, and what its devices do."""

from __future__ import annotations

import os
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest

from station.clock import StreamClock
from station.coach.setup.drafting import with_bay, with_view
from station.coach.setup.values import Camera, Draft, Failed, Folder, Saved
from station.commands.main import main
from station.commands.setup import bay_to_set_up, cameras_for
from station.commands.setup_devices import Devices
from station.commands.simulated import demo_scenario, set_up_source
from station.errors import BadInput, DeviceTrouble
from station.live import LockStepFeed
from station.see.cameras import found_cameras
from station.settings import read_bay
from station.sound.round_trip import Recording
from station.sound.tones import SAMPLE_RATE_HZ
from station.values import Bay, Frame, Pose

NOW = datetime(2026, 11, 26, 9, 0, 0)


class Model:
    """Finds one body at a set place, and counts how often it is asked."""

    def __init__(self) -> None:
        self.asked = 0
        self.closed = 0

    def find(self, frame: Frame) -> Pose:
        self.asked += 1
        height, width = frame.image.shape[:2]
        return Pose(frame.t_s, frame.index, np.full((33, 2), 50.0), np.ones(33), width, height)

    def detect_anew(self) -> None: ...

    def close(self) -> None:
        self.closed += 1


def devices(tmp_path: Path, **parts: object) -> tuple[Devices, Model]:
    model = Model()
    scenario = demo_scenario()
    made = Devices(
        tmp_path / "bay.toml", StreamClock(), lambda: set_up_source(scenario),
        make_model=lambda: model, now=lambda: NOW, **parts,  # type: ignore[arg-type]
    )  # fmt: skip
    return made, model


# --- what it begins with ------------------------------------------------------------------------


def test_without_a_profile_it_begins_with_an_ordinary_bay(tmp_path: Path) -> None:
    assert bay_to_set_up(tmp_path / "bay.toml", None) == Bay()


def test_a_profile_that_is_there_is_the_start(tmp_path: Path) -> None:
    path = tmp_path / "bay.toml"
    path.write_text('name = "Bay 4"\n[camera]\nroll_deg = 1.5\n', encoding="utf-8")
    bay = bay_to_set_up(path, "level")
    assert (bay.name, bay.view.roll_deg) == ("Bay 4", 1.5)


@pytest.mark.parametrize(
    ("text", "args", "words"),
    [
        ("[camera]\nfps = 'fast'\nroll = 2\n", [], ["2 mistakes", "fps", "roll", "OTHER.toml"]),
        ("not toml", [], ["not valid TOML", "OTHER.toml"]),
        (None, ["--step", "level"], ["there is no", "without --step"]),
        (None, ["--language", "xx"], ["--language xx", "en"]),
        (None, ["--source", "nowhere.mp4"], ["nowhere.mp4"]),
        (None, ["--source", " "], ["--source is empty"]),
        (None, ["--step", "dance"], ["invalid choice"]),
    ],
)
def test_a_users_mistake_is_told_once_and_opens_no_window(
    text: str | None, args: list[str], words: list[str], tmp_path: Path, capsys, monkeypatch
) -> None:
    monkeypatch.setattr("station.commands.setup.WindowedSetup", None)  # none may be made
    path = tmp_path / "bay.toml"
    if text is not None:
        path.write_text(text, encoding="utf-8")
    assert main(["setup", "--bay", str(path), *args]) == 2
    said = capsys.readouterr().err
    for word in words:
        assert word in said
    assert "Traceback" not in said
    assert text is None or path.read_text(encoding="utf-8") == text


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write everywhere")
def test_a_folder_that_may_not_be_written_is_told_before_anything_is_measured(
    tmp_path: Path,
) -> None:
    tmp_path.chmod(0o500)
    try:
        with pytest.raises(BadInput, match="cannot be written there"):
            bay_to_set_up(tmp_path / "bay.toml", None)
    finally:
        tmp_path.chmod(0o700)


def test_a_folder_that_is_a_file_is_told_too(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(BadInput, match="cannot be written there"):
        bay_to_set_up(tmp_path / "file" / "bay.toml", None)


def test_no_display_is_one_clear_message(tmp_path: Path, capsys, monkeypatch) -> None:
    for name in ("SDL_VIDEODRIVER", "DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    assert main(["setup", "--bay", str(tmp_path / "bay.toml"), "--source", "demo"]) == 3
    said = capsys.readouterr().err
    assert "screen:" in said
    assert "Traceback" not in said


# --- cameras ------------------------------------------------------------------------------------


def test_cameras_are_found_by_name_without_their_second_devices(tmp_path: Path) -> None:
    for number, (name, index) in enumerate((("Side", "0"), ("Side", "1"), ("Door", "0"))):
        (tmp_path / f"video{number}").touch()
        told = tmp_path / "kernel" / f"video{number}"
        told.mkdir(parents=True)
        (told / "name").write_text(f"{name}\n", encoding="utf-8")
        (told / "index").write_text(f"{index}\n", encoding="utf-8")
    found = found_cameras(tmp_path, tmp_path / "kernel")
    assert [name.split(" (")[0] for _, name in found] == ["Side", "Door"]
    assert [Path(path).name for path, _ in found] == ["video0", "video2"]


def test_a_camera_that_the_kernel_says_nothing_of_is_named_by_its_path(tmp_path: Path) -> None:
    (tmp_path / "video7").touch()
    path = str(tmp_path / "video7")
    assert found_cameras(tmp_path, tmp_path / "nothing") == ((path, path),)
    assert found_cameras(tmp_path / "nowhere") == ()


def test_a_source_that_is_named_is_the_only_one() -> None:
    assert cameras_for("demo", Bay()) == (Camera("demo", "demo"),)
    assert cameras_for("2", Bay()) == (Camera(2, "2"),)
    url = "rtsp://camera.example/side"
    assert cameras_for(url, Bay()) == (Camera(url, url),)


def test_the_bays_own_camera_is_offered_though_it_is_not_there() -> None:
    own = Bay(device="rtsp://camera.example/side")
    assert Camera(own.device, str(own.device)) in cameras_for(None, own)


# --- devices ------------------------------------------------------------------------------------


def test_the_demo_is_opened_and_its_stage_set(tmp_path: Path) -> None:
    parts, model = devices(tmp_path)
    try:
        feed, opened = parts.open("demo", 0.004, Draft())
        assert isinstance(feed, LockStepFeed)
        assert (opened.width, opened.height, opened.live, opened.locked) == (
            1280,
            720,
            False,
            False,
        )
        parts.set_up("level")
        hung = feed.next(0.1)
        assert model.asked == 0  # nobody is looked for in this step
        parts.set_up("runner")
        stands = feed.next(0.1)
        assert model.asked == 1
        assert hung is not None
        assert stands is not None
        assert hung.frame is not None
        assert stands.frame is not None
        assert (hung.frame.image != stands.frame.image).any()
        parts.close()
        parts.open("demo", None, Draft())
        assert model.closed == 0  # the model is kept for the next camera
    finally:
        parts.end()
    assert model.closed == 1


def test_a_camera_that_is_not_there_is_one_clear_message(tmp_path: Path) -> None:
    class Nothing:
        def isOpened(self) -> bool:  # noqa: N802
            return False

        def release(self) -> None: ...

    parts, _ = devices(tmp_path, open_device=lambda *_: Nothing())
    try:
        with pytest.raises(DeviceTrouble, match="video9"):
            parts.open("/dev/video9", None, Draft())
    finally:
        parts.end()


def test_a_folder_is_looked_at_and_no_path_is_too_odd(tmp_path: Path) -> None:
    parts, _ = devices(tmp_path)
    found = parts.look_at_folder(str(tmp_path))
    assert isinstance(found, Folder)
    assert found.trouble is None
    assert found.free_bytes
    for odd in ("~nobody-of-this-name/x", "/proc/version/x"):
        told = parts.look_at_folder(odd)
        assert isinstance(told, Folder)
        assert told.trouble


def test_what_was_touched_is_saved_and_nothing_else(tmp_path: Path) -> None:
    parts, _ = devices(tmp_path)
    draft = with_view(with_bay(Draft(Bay(volume=0.9)), fps=50.0), roll_deg=1.25)
    saved = parts.save(draft)
    assert saved == Saved(str(tmp_path / "bay.toml"), None)
    bay = read_bay(tmp_path / "bay.toml")
    assert (bay.fps, bay.view.roll_deg, bay.volume) == (50.0, 1.25, 0.6)
    again = parts.save(with_bay(Draft(), fps=30.0))
    assert isinstance(again, Saved)
    assert again.kept is not None
    assert Path(again.kept).name == "bay-before-20261126-090000.toml"


def test_a_profile_that_was_broken_meanwhile_is_left_alone(tmp_path: Path) -> None:
    parts, _ = devices(tmp_path)
    (tmp_path / "bay.toml").write_text("fps = ", encoding="utf-8")
    told = parts.save(with_bay(Draft(), fps=30.0))
    assert isinstance(told, Failed)
    assert "not valid TOML" in told.why


def test_sound_without_a_device_is_told_and_its_thread_ends(tmp_path: Path) -> None:
    parts, _ = devices(tmp_path, mute=True)
    try:
        parts.measure_sound(0.5, Draft())
        assert parts._sound is not None
        assert parts._sound.join(5.0)
        assert parts.heard() == Failed("sound", "--mute: nothing was played")
        assert parts.heard() is None
    finally:
        parts.end()


def test_claps_are_heard_by_a_microphone_of_their_own(tmp_path: Path) -> None:
    class Hears:
        name = "room"

        def start(self, clock: object) -> None: ...

        def stop(self) -> Recording:
            samples = np.random.default_rng(1).normal(0.0, 0.001, 2 * SAMPLE_RATE_HZ)
            for at_s in (0.6, 1.3):
                n = round(at_s * SAMPLE_RATE_HZ)
                samples[n : n + 400] += 0.5 * np.exp(-np.arange(400) / 80.0)
            return Recording(samples.astype(np.float32), lambda i: 7.0 + i / SAMPLE_RATE_HZ)

    parts, _ = devices(tmp_path, make_microphone=Hears)
    try:
        parts.listen()
        assert parts._ears is not None
        assert parts._ears.join(5.0)
        assert parts.sounds() == pytest.approx((7.6, 8.3), abs=0.003)
        assert parts.sounds() is None
    finally:
        parts.end()


def test_without_a_microphone_listening_says_so(tmp_path: Path) -> None:
    class Deaf:
        name = "none"

        def start(self, clock: object) -> None:
            raise DeviceTrouble("PortAudio opens no sound input")

    parts, _ = devices(tmp_path, make_microphone=Deaf)
    try:
        parts.listen()
        assert parts._ears is not None
        assert parts._ears.join(5.0)
        assert parts.sounds() == Failed("clap", "PortAudio opens no sound input")
    finally:
        parts.end()
