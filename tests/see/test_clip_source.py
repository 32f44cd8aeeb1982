from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from station.clock import StreamClock
from station.errors import BadInput
from station.ports import EndOfStream, SourceInfo
from station.see.clip import ClipSource
from station.see.opencv import cv2

FRAMES, FPS, WIDTH, HEIGHT = 60, 30.0, 160, 120
Drawing = Callable[[int], np.ndarray]


def noise(i: int) -> np.ndarray:
    """Noise, so that a file's bytes spread evenly over its frames."""
    return np.random.default_rng(i).integers(0, 255, (HEIGHT, WIDTH, 3), np.uint8)


def numbered(i: int) -> np.ndarray:
    """A grey that tells the frame's number after compression, too."""
    return np.full((HEIGHT, WIDTH, 3), 4 * i, np.uint8)


def make_clip(path: Path, code: str, frames: int = FRAMES, draw: Drawing = noise) -> Path:
    writer = cv2.VideoWriter(str(path), cv2.VideoWriter.fourcc(*code), FPS, (WIDTH, HEIGHT))
    assert writer.isOpened()
    for i in range(frames):
        writer.write(draw(i))
    writer.release()
    return path


def play(path: Path) -> tuple[SourceInfo, list[float], list[int], str | None]:
    source = ClipSource(path)
    info = source.start(StreamClock(), paced=False)
    times_s, numbers = [], []
    try:
        while True:
            frame = source.receive(1.0)
            assert frame is not None
            times_s.append(frame.t_s)
            numbers.append(frame.index)
    except EndOfStream as end:
        return info, times_s, numbers, end.note
    finally:
        source.stop()
        source.stop()


@pytest.mark.parametrize(
    ("name", "code"), [("a.mp4", "mp4v"), ("a.avi", "MJPG"), ("a.mkv", "mp4v")]
)
def test_a_whole_clip_gives_all_frames_at_their_times(tmp_path: Path, name: str, code: str) -> None:
    info, times_s, numbers, note = play(make_clip(tmp_path / name, code))
    assert (info.width, info.height, info.live, info.frames) == (WIDTH, HEIGHT, False, FRAMES)
    assert info.fps == pytest.approx(FPS)
    assert numbers == list(range(FRAMES))
    assert times_s[0] == 0.0
    assert times_s == pytest.approx(np.arange(FRAMES) / FPS, abs=1.1e-3)  # mkv keeps milliseconds
    assert note is None


def test_frames_come_in_order_and_are_the_right_pictures(tmp_path: Path) -> None:
    source = ClipSource(make_clip(tmp_path / "a.avi", "MJPG", 30, numbered))
    source.start(StreamClock(), paced=False)
    for i in range(30):
        frame = source.receive(1.0)
        assert frame is not None
        assert frame.image.mean() == pytest.approx(4 * i, abs=1.5)
    source.stop()


@pytest.mark.parametrize(
    ("name", "code"), [("a.avi", "MJPG"), ("x.avi", "XVID"), ("a.mkv", "mp4v")]
)
def test_a_clip_cut_in_the_middle_ends_early_with_a_note(
    tmp_path: Path, name: str, code: str
) -> None:
    path = make_clip(tmp_path / name, code)
    content = path.read_bytes()
    path.write_bytes(content[: len(content) // 2])
    info, times_s, numbers, note = play(path)
    assert info.frames == FRAMES
    assert 10 < len(numbers) < 40
    assert note is not None
    assert str(path) in note
    assert f"ended early at {times_s[-1] + 1 / FPS:.1f} s of 2.0 s" in note
    assert f"{len(numbers)} of {FRAMES} frames" in note


def test_a_clip_with_a_hole_tells_of_lost_frames(tmp_path: Path) -> None:
    path = make_clip(tmp_path / "a.mkv", "mp4v")
    content = bytearray(path.read_bytes())
    size = len(content)
    content[size // 3 : size // 2] = bytes(size // 2 - size // 3)
    path.write_bytes(content)
    _, times_s, numbers, note = play(path)
    assert times_s[-1] == pytest.approx((FRAMES - 1) / FPS, abs=2e-3)
    assert note is not None
    assert f"{FRAMES - len(numbers)} of {FRAMES} frames" in note
    assert "decoded" in note


@pytest.mark.parametrize(
    ("name", "content", "says"),
    [
        ("absent.mp4", None, "there is no file"),
        ("empty.mp4", b"", "is empty"),
        ("text.mp4", b"These are words. " * 500, "is not a video"),
        ("zeros.mp4", bytes(50_000), "is not a video"),
        ("photo.JPG", b"anything", "still picture"),
    ],
)
def test_what_is_no_video_is_refused(
    tmp_path: Path, name: str, content: bytes | None, says: str
) -> None:
    path = tmp_path / name
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(BadInput, match=says) as caught:
        ClipSource(path).start(StreamClock(), paced=False)
    assert str(path) in str(caught.value)
    assert "allowed is a video file" in str(caught.value)


def test_a_folder_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="is a folder"):
        ClipSource(tmp_path).start(StreamClock(), paced=False)


def test_a_picture_named_as_a_video_is_refused(tmp_path: Path) -> None:
    cv2.imwrite(str(tmp_path / "a.png"), noise(0))
    path = (tmp_path / "a.png").rename(tmp_path / "a.mp4")
    with pytest.raises(BadInput, match="single picture"):
        ClipSource(path).start(StreamClock(), paced=False)


def test_clips_of_one_frame_and_of_none_are_refused(tmp_path: Path) -> None:
    one = make_clip(tmp_path / "one.avi", "MJPG", 1)
    with pytest.raises(BadInput, match="single picture"):
        ClipSource(one).start(StreamClock(), paced=False)
    none = make_clip(tmp_path / "none.avi", "MJPG", 0)
    with pytest.raises(BadInput, match=str(none)):
        ClipSource(none).start(StreamClock(), paced=False)


def test_a_file_that_may_not_be_read_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    path = make_clip(tmp_path / "a.avi", "MJPG", 3)
    monkeypatch.setattr(Path, "open", refuse)  # a test run as root may read everything
    with pytest.raises(BadInput, match="may not be read by this user"):
        ClipSource(path).start(StreamClock(), paced=False)


class HandClock:
    """A clock that waits for nothing and goes only where the test puts it."""

    def __init__(self) -> None:
        self.t_s = 0.0
        self.asked: list[tuple[float, float]] = []

    def now_s(self) -> float:
        return self.t_s

    def wait_until(self, t_s: float, timeout_s: float) -> bool:
        self.asked.append((t_s, timeout_s))
        return self.t_s >= t_s


def test_a_paced_clip_waits_for_each_frame_s_time(tmp_path: Path) -> None:
    source, clock = ClipSource(make_clip(tmp_path / "a.avi", "MJPG", 10)), HandClock()
    source.start(clock, paced=True)
    first = source.receive(0.5)
    assert first is not None
    assert source.receive(0.25) is None
    assert clock.asked[-1] == (pytest.approx(1 / FPS), 0.25)
    clock.t_s = 0.15  # late: frames 1 to 4 are due, none is skipped
    late = [source.receive(0.0) for _ in range(4)]
    assert [frame.index for frame in late if frame] == [1, 2, 3, 4]
    assert source.receive(0.0) is None
    source.stop()


class OddTimes:
    """A capture whose container has the times given."""

    def __init__(self, times_ms: list[float], fps: float = 50.0) -> None:
        self.times_ms, self.fps, self.i = times_ms, fps, -1

    def isOpened(self) -> bool:  # noqa: N802
        return True

    def set(self, _prop: int, _value: float) -> bool:
        return True

    def get(self, prop: int) -> float:
        if prop == cv2.CAP_PROP_POS_MSEC:
            return self.times_ms[self.i]
        return self.fps if prop == cv2.CAP_PROP_FPS else 0.0

    def read(self) -> tuple[bool, np.ndarray | None]:
        self.i += 1
        return (True, noise(0)) if self.i < len(self.times_ms) else (False, None)

    def release(self) -> None:
        pass


@pytest.mark.parametrize(
    ("times_ms", "fps", "expected_s", "says"),
    [
        ([40, 60, 100, 110], 50, [0, 0.02, 0.06, 0.07], None),  # variable rate, late start
        ([0, 0, 0, 0], 50, [0, 0.02, 0.04, 0.06], "3 of 4 frames"),  # no times at all
        ([0, 20, 10, 30], 50, [0, 0.02, 0.04, 0.06], "1 of 4 frames"),  # one step back
        ([0, 20, 40], float("nan"), [0, 0.02, 0.04], "names no frame rate"),
    ],
)
def test_times_are_made_to_rise(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    times_ms: list[float],
    fps: float,
    expected_s: list[float],
    says: str | None,
) -> None:
    path = tmp_path / "odd.mp4"
    path.write_bytes(b"x")
    monkeypatch.setattr(cv2, "VideoCapture", lambda *_: OddTimes(times_ms, fps))
    _, times_s, _, note = play(path)
    assert times_s == pytest.approx(expected_s)
    assert (note is None) if says is None else (note is not None and says in note)


def test_the_shared_clip_is_read_whole(shared_data: Path) -> None:
    path = shared_data / "clips" / "ff_25_60.mp4"
    if not path.is_file():
        pytest.skip(f"{path.name} is not in the recorded data")
    source = ClipSource(path)
    info = source.start(StreamClock(), paced=False)
    source.stop()
    assert (info.width, info.height, info.fps, info.frames) == (960, 540, 60.0, 900)
