from __future__ import annotations

import threading
from pathlib import Path

import cv2
import numpy as np
import pytest

from station.errors import BadInput, StationError
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

    def write(self, image: np.ndarray) -> None:
        assert self.go.wait(10.0)
        self.written += 1

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
        def write(self, image: np.ndarray) -> None:
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
