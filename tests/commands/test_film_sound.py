"""The sound beside the film of a whole session: beats, pulse and files held against each other.

The run is a real one (pose model, painter, encoder) on stream time. Ticks are found in `sound.wav`
by loudness alone and the pulse in the film's pixels by colour alone; nothing of the station's own
tones or layout is used.
"""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import cv2
import films
import numpy as np
import pytest
from scipy.io import wavfile

from station.commands.main import main
from station.errors import StationError
from station.live import Session
from station.live.beats import BeatLog
from station.ports import PoseModel
from station.show.recorder import VideoRecorder
from station.values import Pose

pytestmark = pytest.mark.usefixtures("lent_model")

FS = 48_000
FPS = 30.0
PERIOD = 60 * FS // 180
PLAN = """name = "Beat"
[[drill]]
name = "Beat"
belt_speed = "6 mph"
step_rate = 180
seconds = 60
feedback = "off"
"""
ARGUMENTS = ["run", "--source", "demo", "--fast", "--headless"]


@dataclass(frozen=True)
class Ran:
    folder: Path
    beats_s: list[float]
    """When each beat sounded, as the session was told, session clock."""

    @property
    def told(self) -> dict:
        return json.loads((self.folder / "session.json").read_text(encoding="utf-8"))

    @property
    def sound(self) -> np.ndarray:
        rate_hz, samples = wavfile.read(self.folder / "sound.wav")
        assert rate_hz == FS
        return samples

    def film(self) -> list[np.ndarray]:
        video = cv2.VideoCapture(str(self.folder / "screen.mp4"))
        try:
            return [image for _, image in iter(video.read, (False, None))]
        finally:
            video.release()


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    path = tmp_path / "plan.toml"
    path.write_text(PLAN, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def ran(tmp_path_factory: pytest.TempPathFactory, lend_model: Callable[[], PoseModel]) -> Ran:
    """Three seconds of a beat at 180."""
    folder = tmp_path_factory.mktemp("film")
    (folder / "plan.toml").write_text(PLAN, encoding="utf-8")
    beats_s: list[float] = []
    add = BeatLog.add

    def add_and_note(self: BeatLog, heard: tuple) -> None:
        beats_s.extend(event.t_s for event in heard if event.kind == "beat")
        add(self, heard)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(BeatLog, "add", add_and_note)
        patch.setattr("station.commands.run.MediapipePose", lend_model)
        arguments = [*ARGUMENTS, "--video", "--plan", str(folder / "plan.toml")]
        assert main([*arguments, "--seconds", "3", "--out", str(folder / "out")]) == 0
    return Ran(folder / "out", beats_s)


def tick_onsets(sound: np.ndarray) -> np.ndarray:
    """Find where silence of at least 5 ms ends, in samples."""
    loud = np.flatnonzero(np.abs(sound.astype(int)).max(axis=1) > 0)
    return loud[np.diff(loud, prepend=-FS) > 0.005 * FS]


def pulses(film: list[np.ndarray]) -> np.ndarray:
    """Find the pictures in which the largest yellow thing, the pulse's disc, becomes full."""
    area = []
    for image in film:
        b, g, r = (image[..., i] for i in range(3))
        yellow = ((r > 180) & (g > 170) & (b < 130)).astype(np.uint8)
        _, _, stats, _ = cv2.connectedComponentsWithStats(yellow)
        area.append(stats[1:, cv2.CC_STAT_AREA].max(initial=0))
    full = np.array(area) > 0.5 * (np.min(area) + np.max(area))
    return np.flatnonzero(full & ~np.concatenate([[False], full[:-1]]))


def take_and(fault: BaseException) -> Callable[[Session, Pose], bool]:
    """Return a session's `take` that meets a fault at picture 24."""
    take = Session.take

    def take_and_fail(self: Session, pose: Pose) -> bool:
        if pose.index == 24:
            raise fault
        return take(self, pose)

    return take_and_fail


@pytest.mark.timeout(180)
def test_every_tick_is_where_the_session_was_told(ran: Ran) -> None:
    first_s = ran.told["film"]["first_picture_s"]
    found = tick_onsets(ran.sound)
    told = np.array([t_s - first_s for t_s in ran.beats_s]) * FS
    told = told[told < len(ran.sound)]
    assert len(found) == len(told) == 9
    late = found - told
    assert np.ptp(late) <= 1.0  # all alike
    assert -1.0 <= late.min() <= late.max() <= 12.0  # a soft edge: its first samples round to 0
    assert np.abs(np.diff(found) - PERIOD).max() <= 1


def test_every_tick_is_where_the_steps_table_has_it(ran: Ran) -> None:
    """A step's contact minus its offset is its beat; the table's times have four decimals."""
    with (ran.folder / "steps.csv").open(encoding="utf-8", newline="") as file:
        steps = [row for row in csv.DictReader(file) if row["beat_offset_s"]]
    assert len(steps) >= 5
    first_s = ran.told["film"]["first_picture_s"]
    found = tick_onsets(ran.sound)
    for row in steps:
        beat = (float(row["t_contact_s"]) - float(row["beat_offset_s"]) - first_s) * FS
        assert np.abs(found - beat).min() <= 1e-4 * FS + 12


def test_the_pulse_in_the_pixels_is_within_a_picture_of_the_tick(ran: Ran) -> None:
    found_s = tick_onsets(ran.sound) / FS
    pulses_s = pulses(ran.film()) / FPS
    assert len(pulses_s) == len(found_s)
    # A picture shows the pulse from the first one on that stands at or after the beat.
    assert (pulses_s - found_s > -0.001).all()
    assert (pulses_s - found_s < 1 / FPS + 0.001).all()


def test_the_sound_is_as_long_as_the_film(ran: Ran) -> None:
    pictures = len(ran.film())
    assert pictures == 90
    assert len(ran.sound) == pictures / FPS * FS
    assert ran.told["film"]["seconds"] == pytest.approx(3.0)
    assert ran.told["film"]["sound_s"] == pytest.approx(3.0)


def test_the_sound_is_in_the_film(ran: Ran) -> None:
    assert ran.told["film"]["sound_in_film"] is True
    assert not [notice for notice in ran.told["notices"] if "sound" in notice or "film" in notice]
    in_film = films.sound(ran.folder / "screen.mp4")
    # A lossy codec blurs an onset: what is louder than its noise begins where the tick does.
    loud = np.flatnonzero(np.abs(in_film).max(axis=0) > 0.01)
    found = loud[np.diff(loud, prepend=-FS) > 0.05 * FS]
    assert len(found) == 9
    assert np.abs(found - tick_onsets(ran.sound)).max() <= 0.001 * FS


@pytest.mark.timeout(180)
def test_a_film_that_cannot_be_written_anew_keeps_its_sound_beside_it_and_says_so(
    tmp_path: Path, plan: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("station.commands.film.finish_film", lambda *_: "the disk is worn out")
    out = tmp_path / "out"
    arguments = [*ARGUMENTS, "--video", "--plan", str(plan), "--seconds", "0.3"]
    assert main([*arguments, "--out", str(out)]) == 0
    ran = Ran(out, [])
    assert len(ran.film()) == 9
    assert len(ran.sound) == 0.3 * FS
    assert ran.told["film"]["sound_in_film"] is False
    (notice,) = (notice for notice in ran.told["notices"] if "the disk is worn out" in notice)
    assert "screen.mp4 is without its sound" in notice
    assert "in sound.wav" in notice


@pytest.mark.timeout(180)
def test_the_beat_has_ended_before_the_film_is_joined(
    tmp_path: Path, plan: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Joining takes its time; the beat must not go on for so long."""
    order: list[str] = []
    monkeypatch.setattr(
        "station.sound.speaker_silent.StreamSpeaker.stop", lambda self: order.append("stopped")
    )
    monkeypatch.setattr(
        "station.commands.film.finish_film", lambda *_: order.append("joined") or "left apart"
    )
    arguments = [*ARGUMENTS, "--video", "--plan", str(plan), "--seconds", "0.1"]
    assert main([*arguments, "--out", str(tmp_path / "out")]) == 0
    assert order[:2] == ["stopped", "joined"]


@pytest.mark.timeout(180)
def test_no_sound_is_kept_unless_a_film_is_asked_for(tmp_path: Path, plan: Path) -> None:
    out = tmp_path / "out"
    assert main([*ARGUMENTS, "--plan", str(plan), "--seconds", "0.1", "--out", str(out)]) == 0
    assert not (out / "sound.wav").exists()
    assert Ran(out, []).told["film"] is None


@pytest.mark.timeout(180)
def test_a_muted_film_has_no_sound_and_says_so(tmp_path: Path, plan: Path) -> None:
    out = tmp_path / "out"
    arguments = [*ARGUMENTS, "--video", "--mute", "--plan", str(plan), "--seconds", "0.1"]
    assert main([*arguments, "--out", str(out)]) == 0
    assert (out / "screen.mp4").exists()
    assert not (out / "sound.wav").exists()
    assert len([n for n in Ran(out, []).told["notices"] if "--mute" in n]) == 1
    names = films.parts(out / "screen.mp4")
    assert names.index("moov") < names.index("mdat"), "it starts at once, too"
    assert "moof" not in names


@pytest.mark.timeout(180)
def test_a_disk_that_refuses_the_sound_loses_nothing_else(
    tmp_path: Path, plan: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("station.keep.folder.SOUND_FILE", "/dev/full")
    out = tmp_path / "out"
    arguments = [*ARGUMENTS, "--video", "--plan", str(plan), "--seconds", "0.5"]
    assert main([*arguments, "--out", str(out)]) == 0
    ran = Ran(out, [])
    assert len(ran.film()) == 15
    assert ran.told["ended"] == "time is up"
    assert ran.told["film"]["sound_in_film"] is False
    refused = [notice for notice in ran.told["notices"] if "No space left" in notice]
    assert len(refused) == 1


@pytest.mark.timeout(180)
def test_a_fault_in_the_middle_leaves_a_film_with_the_sound_until_then(
    tmp_path: Path, plan: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Session, "take", take_and(ZeroDivisionError("a wheel fell off")))
    out = tmp_path / "out"
    assert main([*ARGUMENTS, "--video", "--plan", str(plan), "--out", str(out)]) == 1
    ran = Ran(out, [])
    assert len(ran.sound) == len(ran.film()) / FPS * FS == 24 * 1600
    assert len(tick_onsets(ran.sound)) == 3
    assert abs(films.sound(out / "screen.mp4").shape[1] - 24 * 1600) <= 2048
    assert ran.told["film"]["seconds"] == pytest.approx(0.8)
    assert ran.told["film"]["sound_in_film"] is True
    assert ran.told["ended"] == "error: a wheel fell off"


@pytest.mark.timeout(180)
def test_a_film_that_fails_leaves_its_sound_beside_it_and_says_so(
    tmp_path: Path, plan: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write = VideoRecorder.write

    def write_and_fail(self: VideoRecorder, t_s: float, image: np.ndarray) -> None:
        if t_s > 0.75:
            raise StationError("the film cannot be written")
        write(self, t_s, image)

    def close_and_fail(self: VideoRecorder) -> None:
        close(self)
        raise StationError("the film cannot be closed")

    close = VideoRecorder.close
    monkeypatch.setattr(VideoRecorder, "write", write_and_fail)
    monkeypatch.setattr(VideoRecorder, "close", close_and_fail)
    out = tmp_path / "out"
    wanted = ["--video", "--seconds", "1.0", "--plan", str(plan), "--out", str(out)]
    assert main([*ARGUMENTS, *wanted]) == 1
    ran = Ran(out, [])
    assert len(ran.sound) > 0.5 * FS
    assert ran.told["ended"] == "time is up", "the session goes on without its film"
    assert "The film ended early" in ran.told["notices"]
    assert [notice for notice in ran.told["notices"] if "did not end as it should" in notice]


@pytest.mark.timeout(180)
def test_a_second_ctrl_c_does_not_wait_for_the_film_and_says_so(
    tmp_path: Path, plan: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Session, "take", take_and(KeyboardInterrupt()))
    out = tmp_path / "out"
    assert main([*ARGUMENTS, "--video", "--plan", str(plan), "--out", str(out)]) == 1
    ran = Ran(out, [])
    assert len(ran.sound) == len(ran.film()) / FPS * FS == 24 * 1600
    assert ran.told["ended"] == "Ctrl-C"
    assert ran.told["film"]["sound_in_film"] is False
    (notice,) = (notice for notice in ran.told["notices"] if "did not end as it should" in notice)
    assert "screen.mp4 is without its sound" in notice


@pytest.mark.timeout(180)
def test_a_live_film_without_a_device_has_the_sound_that_would_have_been(
    tmp_path: Path, plan: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By the clock, with threads; no sound device is there to open."""
    monkeypatch.setattr("station.sound.choose.PortAudioSpeaker.start", refuse)
    monkeypatch.setattr("station.sound.choose.PygameSpeaker.start", refuse)
    out = tmp_path / "out"
    arguments = ["run", "--source", "demo", "--headless", "--video", "--plan", str(plan)]
    assert main([*arguments, "--seconds", "1.5", "--out", str(out)]) == 0
    ran = Ran(out, [])
    assert any("would have sounded" in notice for notice in ran.told["notices"])
    pictures = len(ran.film())
    assert pictures > 10
    assert len(ran.sound) == pytest.approx(pictures / FPS * FS, abs=1)
    found = tick_onsets(ran.sound)
    assert len(found) >= 2
    assert np.abs(np.diff(found) - PERIOD).max() <= 1


def refuse(*_: object) -> None:
    from station.errors import DeviceTrouble

    raise DeviceTrouble("no device")
