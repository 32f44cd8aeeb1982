from __future__ import annotations

import subprocess
import sys
import threading
from fractions import Fraction
from pathlib import Path

import av
import cv2
import films
import numpy as np
import pytest

from station.errors import BadInput, StationError
from station.show import film_file
from station.show.recorder import VideoRecorder, save_still

SIZE = (160, 90)


def picture(level: int) -> np.ndarray:
    return np.full((SIZE[1], SIZE[0], 3), level, np.uint8)


def read_levels(path: Path) -> list[float]:
    video = cv2.VideoCapture(str(path))
    levels = []
    while True:
        read, image = video.read()
        if not read:
            break
        assert image.shape == (SIZE[1], SIZE[0], 3)
        levels.append(float(image.mean()))
    assert video.get(cv2.CAP_PROP_FPS) == pytest.approx(30.0)
    video.release()
    return levels


def test_uneven_times_are_laid_onto_the_constant_rate(tmp_path: Path) -> None:
    path = tmp_path / "new folder" / "clip.mp4"
    recorder = VideoRecorder(path, *SIZE, 30.0)
    image = picture(0)
    # One second: even, then a gap of 10 frames, then two pictures within one frame.
    for t_s, level in ((5.0, 40), (5.0 + 1 / 30, 40), (5.5, 120), (5.9, 160), (5.905, 240)):
        image[:] = level
        recorder.write(t_s, image)  # the picture is copied: the next round paints over it
    recorder.close()
    recorder.close()
    levels = read_levels(path)
    wanted = [40] * 15 + [120] * 12 + [240]
    assert len(levels) == len(wanted)
    np.testing.assert_allclose(levels, wanted, atol=12)


def test_it_tells_how_far_its_pictures_go(tmp_path: Path) -> None:
    path = tmp_path / "clip.mp4"
    recorder = VideoRecorder(path, *SIZE, 30.0)
    assert recorder.span_s is None
    for t_s in (7.25, 7.3, 9.0, 8.0):  # the last one comes too late
        recorder.write(t_s, picture(100))
        told = recorder.span_s
    recorder.close()
    assert told == recorder.span_s
    assert told is not None
    assert told[0] == 7.25
    assert (told[1] - told[0]) * 30.0 == pytest.approx(len(read_levels(path)))


def test_the_clip_lasts_as_long_as_the_stream(tmp_path: Path) -> None:
    path = tmp_path / "clip.mp4"
    recorder = VideoRecorder(path, *SIZE, 30.0)
    rng = np.random.default_rng(1)
    times = np.cumsum(rng.uniform(0.005, 0.06, 90))
    for t_s in times:
        recorder.write(float(t_s), picture(100))
    recorder.close()
    assert len(read_levels(path)) / 30.0 == pytest.approx(times[-1] - times[0], abs=0.05)
    assert recorder.dropped == 0


class Stuck:
    """An encoder that works only when it is let."""

    def __init__(self) -> None:
        self.go = threading.Event()
        self.written = 0

    def write(self, image: np.ndarray, times: int) -> None:
        assert self.go.wait(10.0)
        self.written += times

    def release(self) -> None:
        pass


def test_a_live_session_drops_and_counts(tmp_path: Path) -> None:
    recorder = VideoRecorder(tmp_path / "clip.mp4", *SIZE, 30.0, live=True)
    recorder._video.release()
    stuck = recorder._video = Stuck()
    for number in range(30):
        recorder.write(number / 30.0, picture(10))
    assert recorder.dropped >= 30 - 8
    stuck.go.set()
    recorder.close()
    assert stuck.written == 30 - recorder.dropped


def test_a_failing_encoder_is_told_to_the_caller(tmp_path: Path) -> None:
    class Full(Stuck):
        def write(self, image: np.ndarray, times: int) -> None:
            raise OSError("no space left")

    recorder = VideoRecorder(tmp_path / "clip.mp4", *SIZE, 30.0)
    recorder._video.release()
    recorder._video = Full()

    def write_many() -> None:
        for number in range(100):  # more than there are buffers: waits, and must not wait forever
            recorder.write(number / 30.0, picture(10))

    with pytest.raises(StationError, match="no space left"):
        write_many()
    with pytest.raises(StationError, match="no space left"):
        recorder.close()


def test_a_full_disk_is_told_to_the_caller(tmp_path: Path) -> None:
    path = tmp_path / "clip.mp4"
    path.symlink_to("/dev/full")
    recorder = VideoRecorder(path, *SIZE, 30.0)
    recorder.write(0.0, picture(10))
    with pytest.raises(StationError, match=r"cannot be written \(No space left on device\)"):
        recorder.close()


def test_the_picture_is_h264_and_a_player_can_jump_by_two_seconds(tmp_path: Path) -> None:
    path = tmp_path / "clip.mp4"
    recorder = VideoRecorder(path, *SIZE, 30.0)
    for number in range(150):
        recorder.write(number / 30.0, picture(number))
    recorder.close()
    with av.open(str(path)) as film:
        (stream,) = film.streams
        assert stream.codec_context.name == "h264"
        assert stream.codec_context.pix_fmt == "yuv420p"
        keys = [
            packet.pts * packet.time_base for packet in film.demux(stream) if packet.is_keyframe
        ]
    assert keys == [0, 2, 4]


@pytest.mark.parametrize(
    ("fps", "rate"),
    [(30.0, "30"), (59.94005994, "60000/1001"), (29.97, "29.97"), (23.7, "23.7")],
)
def test_each_picture_is_exactly_at_its_place(tmp_path: Path, fps: float, rate: str) -> None:
    path = tmp_path / "clip.mp4"
    recorder = VideoRecorder(path, *SIZE, fps)
    for number in range(100):
        recorder.write(number / fps, picture(number))
    recorder.close()
    with av.open(str(path)) as film:
        assert film.streams.video[0].average_rate == Fraction(rate)
        tick_s = film.streams.video[0].time_base
    times_s = films.times_s(path)
    assert len(times_s) == 100
    for number, t_s in enumerate(times_s):
        assert abs(t_s - number / Fraction(rate)) <= tick_s / 2  # an MP4 counts in whole ticks


@pytest.mark.parametrize("size", [(160, 90), (160, 96), (162, 98)])
@pytest.mark.parametrize(
    "bgr", [(255, 0, 0), (0, 255, 0), (0, 0, 255), (255, 255, 255), (0, 0, 0), (30, 200, 240)]
)
def test_colours_come_back(
    tmp_path: Path, bgr: tuple[int, int, int], size: tuple[int, int]
) -> None:
    path = tmp_path / "clip.mp4"
    recorder = VideoRecorder(path, *size, 30.0)
    image = np.full((size[1], size[0], 3), bgr, np.uint8)
    for number in range(5):
        recorder.write(number / 30.0, image)
    recorder.close()
    for read in films.pictures(path):
        np.testing.assert_allclose(read, image, atol=3)
    with av.open(str(path)) as film:
        context = film.streams.video[0].codec_context
        # ITU-T H.273: tables 2, 3 and 4, and limited range; a browser that is not told guesses.
        marks = context.color_primaries, context.color_trc, context.colorspace, context.color_range
        assert marks == (1, 13, 5, 1)


KILLED = """
import os, signal, sys
from pathlib import Path
import numpy as np
from station.show.recorder import VideoRecorder
recorder = VideoRecorder(Path(sys.argv[1]), 160, 90, 30.0)
for number in range(150):
    recorder.write(number / 30.0, np.full((90, 160, 3), number, np.uint8))
os.kill(os.getpid(), signal.SIGKILL)
"""


def test_of_a_killed_program_s_film_the_last_second_is_lost_at_most(tmp_path: Path) -> None:
    path = tmp_path / "clip.mp4"
    done = subprocess.run(
        [sys.executable, "-c", KILLED, str(path)],
        cwd=Path(__file__).resolve().parents[2],
        check=False,
    )
    assert done.returncode == -9
    levels = read_levels(path)
    assert len(films.packets(path)) == len(levels) >= 150 - 8 - 30  # waiting ones, and a second
    np.testing.assert_allclose(levels, np.arange(len(levels)), atol=4)


def test_a_film_without_a_picture_is_closed(tmp_path: Path) -> None:
    recorder = VideoRecorder(tmp_path / "clip.mp4", *SIZE, 30.0)
    recorder.close()
    assert recorder.span_s is None
    assert (tmp_path / "clip.mp4").read_bytes() == b""


def test_a_build_without_the_encoder_is_told_at_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(film_file, "ENCODER", "libx264-not-built")
    with pytest.raises(BadInput, match="here has no H"):
        VideoRecorder(tmp_path / "clip.mp4", *SIZE, 30.0)


@pytest.mark.parametrize(
    ("size", "fps", "told"),
    [((161, 91), 30.0, "does not take 161 x 91"), (SIZE, 0.0, "no film can be made of")],
)
def test_what_cannot_be_encoded_is_told_at_once(
    tmp_path: Path, size: tuple[int, int], fps: float, told: str
) -> None:
    with pytest.raises(BadInput, match=told):
        VideoRecorder(tmp_path / "clip.mp4", *size, fps)


def test_closing_after_an_interrupt_finishes_the_clip(tmp_path: Path) -> None:
    path = tmp_path / "clip.mp4"

    def session() -> None:
        recorder = VideoRecorder(path, *SIZE, 30.0)
        try:
            for number in range(10):
                recorder.write(number / 30.0, picture(90))
            raise KeyboardInterrupt
        finally:
            recorder.close()

    with pytest.raises(KeyboardInterrupt):
        session()
    assert len(read_levels(path)) == 10


def test_writing_after_the_end_is_refused(tmp_path: Path) -> None:
    recorder = VideoRecorder(tmp_path / "clip.mp4", *SIZE, 30.0)
    recorder.close()
    with pytest.raises(StationError, match="closed already"):
        recorder.write(0.0, picture(1))


def test_a_place_that_cannot_be_written(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("not a folder")
    with pytest.raises(BadInput, match="folder cannot be made"):
        VideoRecorder(tmp_path / "file" / "clip.mp4", *SIZE, 30.0)
    with pytest.raises(BadInput, match="folder cannot be made"):
        save_still(tmp_path / "file" / "still.png", picture(1))
    (tmp_path / "clip.mp4").mkdir()
    with pytest.raises(BadInput, match="cannot be written"):
        VideoRecorder(tmp_path / "clip.mp4", *SIZE, 30.0)
    with pytest.raises(BadInput, match="a clip ends in"):
        VideoRecorder(tmp_path / "clip.xyz", *SIZE, 30.0)


@pytest.mark.parametrize("name", ["still.png", "still.jpg"])
def test_stills(tmp_path: Path, name: str) -> None:
    save_still(tmp_path / "new" / name, picture(77))
    read = cv2.imread(str(tmp_path / "new" / name))
    np.testing.assert_allclose(read, picture(77), atol=2)


def test_a_still_of_another_kind_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="png"):
        save_still(tmp_path / "still.bmp", picture(1))
