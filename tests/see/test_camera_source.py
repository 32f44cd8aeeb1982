"""The camera behind a device simulated at its edge: what OpenCV's VideoCapture would answer."""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from station.clock import StreamClock
from station.errors import BadInput, DeviceTrouble, StationError
from station.ports import EndOfStream
from station.see.camera import CameraSource
from station.see.capture import cannot_open, found_devices
from station.see.clip import ClipSource
from station.see.grabber import AT_ONCE_FAILS, Grabber
from station.see.opencv import cv2
from station.see.sources import open_source
from station.see.stamps import Stamps

PERIOD_S = 1.0 / 60.0
DELAY_S = 0.012
"""From exposure to the end of the grab."""
SILENT_S = 1.0
"""How long a grab blocks before it gives up."""


class FakeCamera:
    """Moves the clock by itself: a grab takes one period, a failing one a second.

    `behave(n)` says what the n-th grab (from 0, over all openings) does: "ok", "silent", "at once"
    (fails without waiting), "damaged" or "raises" (when it is decoded). With `gate`, each grab
    waits until the test lets it go on.
    """

    def __init__(
        self,
        clock: StreamClock,
        behave: Callable[[int], str] = lambda _: "ok",
        stamp: Callable[[float], float] = lambda exposed_s: exposed_s + 5000.0,
        gate: threading.Semaphore | None = None,
    ) -> None:
        self.clock, self.behave, self.stamp, self.gate = clock, behave, stamp, gate
        self.opens = self.grabs = self.releases = 0
        self.present = True
        self.asked: dict[int, float] = {}
        self.exposed_s = 0.0

    def open(self, device: int | str, width: int, height: int, fps: float) -> FakeCamera:
        self.opens += 1
        self.asked_for = (device, width, height, fps)
        return self

    def monotonic(self) -> float:
        return self.clock.now_s() + 5000.0

    def isOpened(self) -> bool:  # noqa: N802
        return self.present

    def set(self, prop: int, value: float) -> bool:
        self.asked[prop] = value
        return True

    def get(self, prop: int) -> float:
        if prop == cv2.CAP_PROP_POS_MSEC:
            return 1000.0 * self.stamp(self.exposed_s)
        return 60.0 if prop == cv2.CAP_PROP_FPS else 0.0

    def grab(self) -> bool:
        if self.gate is not None:
            self.gate.acquire(timeout=5.0)
        self.done = self.behave(self.grabs)
        self.grabs += 1
        if self.done == "at once":
            return False
        if self.done == "silent":
            self.clock.move_to(self.clock.now_s() + SILENT_S)
            return False
        self.clock.move_to(self.clock.now_s() + PERIOD_S)
        self.exposed_s = self.clock.now_s() - DELAY_S
        return True

    def retrieve(self) -> tuple[bool, np.ndarray | None]:
        if self.done == "damaged":
            return False, None
        if self.done == "raises":
            raise cv2.error("no such picture")
        return True, np.full((72, 128, 3), self.grabs % 256, np.uint8)

    def release(self) -> None:
        self.releases += 1


def wait_for(condition: Callable[[], bool]) -> None:
    """Wait for another thread to get somewhere; returns as soon as it has."""
    pause = threading.Event()
    for _ in range(5000):
        if condition():
            return
        pause.wait(0.001)
    raise AssertionError("the camera thread did not get there")


def grabber(camera: FakeCamera, **more: float) -> Grabber:
    return Grabber(
        0, (1280, 720), 60.0, camera.clock, camera.open,
        pause=lambda s: camera.clock.move_to(camera.clock.now_s() + s),
        monotonic=camera.monotonic, present=lambda _: camera.present, **more,
    )  # fmt: skip


def test_driver_stamps_are_put_on_the_session_s_clock() -> None:
    camera = FakeCamera(StreamClock())
    reader = grabber(camera)
    first, fps = reader.open()
    frames = [first, *(reader.step() for _ in range(9))]
    assert fps == 60.0
    exposed_s = PERIOD_S * np.arange(1, 11) - DELAY_S
    assert [frame.t_s for frame in frames if frame] == pytest.approx(exposed_s)
    assert [frame.index for frame in frames if frame] == list(range(10))
    reader.close()
    reader.close()
    assert camera.releases == 1


@pytest.mark.parametrize(
    "stamp",
    [
        lambda exposed_s: 0.0,  # the driver gives none
        lambda exposed_s: exposed_s + 1.7e9,  # wall-clock time
        lambda exposed_s: exposed_s,  # a stream's own time
        lambda exposed_s: float("nan"),
    ],
)
def test_stamps_of_another_clock_are_not_believed(stamp: Callable[[float], float]) -> None:
    camera = FakeCamera(StreamClock(), stamp=stamp)
    reader = grabber(camera)
    first, _ = reader.open()
    frames = [first, *(reader.step() for _ in range(5))]
    assert [f.t_s for f in frames if f] == pytest.approx(PERIOD_S * np.arange(1, 7))
    reader.close()


@pytest.mark.parametrize(
    ("old_s", "believed"),
    [(0.0, True), (0.45, True), (0.55, False), (-0.001, True), (-0.01, False)],
)
def test_a_stamp_is_believed_up_to_half_a_second_before_the_arrival(
    old_s: float, believed: bool
) -> None:
    """Clocks are read one after the other: a stamp may seem up to 2 ms late."""
    stamps = Stamps(offset_s=-100.0)
    assert stamps.time_s(105.0 - old_s, 5.0) == pytest.approx(5.0 - old_s if believed else 5.0)


def test_a_stamp_or_two_that_do_not_fit_are_passed_by() -> None:
    stamps = Stamps(offset_s=-100.0)
    for t_s in (5.0, 6.0, 7.0):
        for arrival_s, old_s in ((t_s, 0.1), (t_s + 0.1, 3.0), (t_s + 0.2, 3.0)):
            found = stamps.time_s(100.0 + arrival_s - old_s, arrival_s)
            assert found == pytest.approx(arrival_s - (0.1 if old_s == 0.1 else 0.0))
    assert stamps.from_driver


def test_times_rise_though_the_stamps_stand_still() -> None:
    stamps = Stamps(offset_s=-100.0)
    times_s = [stamps.time_s(101.0, 1.01), stamps.time_s(101.0, 1.02), stamps.time_s(101.0, 1.02)]
    assert times_s[0] == pytest.approx(1.0)
    assert np.all(np.diff(times_s) > 0.0)
    assert stamps.from_driver
    stamps.time_s(101.0, 1.03)
    assert not stamps.from_driver


@pytest.mark.parametrize("damage", ["damaged", "raises"])
def test_a_damaged_picture_is_counted_and_left_out(damage: str) -> None:
    camera = FakeCamera(StreamClock(), lambda n: damage if n == 2 else "ok")
    reader = grabber(camera)
    reader.open()
    frames = [reader.step() for _ in range(4)]
    assert [frame.index if frame else None for frame in frames] == [1, None, 3, 4]
    assert (reader.captured, reader.damaged) == (5, 1)
    reader.close()


def test_a_silent_camera_is_opened_again_and_goes_on() -> None:
    camera = FakeCamera(StreamClock(), lambda n: "silent" if 3 <= n < 6 else "ok")
    reader = grabber(camera)
    reader.open()
    frames = [reader.step() for _ in range(10)]
    seen = [frame for frame in frames if frame]
    assert camera.opens == 2
    assert reader.reopened == 1
    assert [frame.index for frame in seen] == list(range(1, len(seen) + 1))
    assert np.all(np.diff([frame.t_s for frame in seen]) > 0.0)
    assert seen[-1].t_s == pytest.approx(camera.clock.now_s() - DELAY_S)
    reader.close()


def test_a_camera_that_stays_silent_is_lost_for_good() -> None:
    camera = FakeCamera(StreamClock(), lambda n: "silent" if n >= 3 else "ok")
    reader = grabber(camera, lost_after_s=2.0, give_up_after_s=8.0)
    reader.open()

    def go_on() -> None:
        for _ in range(200):
            reader.step()

    with pytest.raises(DeviceTrouble, match=r"was lost: no picture for 8 s.*cable"):
        go_on()
    assert camera.opens > 2
    assert camera.releases == camera.opens


def test_only_a_device_that_fails_at_once_again_and_again_is_opened_anew() -> None:
    camera = FakeCamera(StreamClock(), lambda n: "at once" if n % 5 else "ok")
    reader = grabber(camera)
    reader.open()
    for _ in range(200):
        reader.step()
    assert (camera.opens, reader.captured) == (1, 41)
    camera.behave = lambda n: "at once"
    for _ in range(AT_ONCE_FAILS + 1):
        reader.step()
    assert camera.opens == 2
    reader.close()


def test_a_driver_that_raises_is_a_device_that_gives_no_picture() -> None:
    camera, raises = FakeCamera(StreamClock()), [True]
    true_open, true_grab = camera.open, camera.grab

    def raising(true: Callable[..., Any]) -> Callable[..., Any]:
        def call(*given: Any) -> Any:
            if raises[0]:
                raise cv2.error("the driver failed")
            return true(*given)

        return call

    camera.open, camera.grab = raising(true_open), raising(true_grab)  # type: ignore[method-assign]
    reader = grabber(camera)
    with pytest.raises(DeviceTrouble):
        reader.open()
    raises[0] = False
    assert reader.open()[0].index == 0
    raises[0] = True
    assert [reader.step() for _ in range(200)] == [None] * 200
    raises[0] = False
    assert any(reader.step() for _ in range(200))
    reader.close()
    assert camera.releases == camera.opens


def test_a_camera_that_is_unplugged_and_back_goes_on() -> None:
    camera = FakeCamera(StreamClock(), lambda n: "silent" if 3 <= n < 6 else "ok")
    reader = grabber(camera)
    reader.open()
    for _ in range(2):
        reader.step()
    camera.present = False
    for _ in range(50):
        assert reader.step() is None
    camera.present = True
    assert any(reader.step() for _ in range(60))
    reader.close()


@pytest.mark.parametrize("present", [False, True])
def test_a_camera_that_does_not_open_or_gives_nothing_is_told(present: bool) -> None:
    camera = FakeCamera(StreamClock(), lambda _: "silent")
    camera.present = present
    source = CameraSource(97, open_capture=camera.open)
    with pytest.raises(DeviceTrouble, match="camera 97 is not there") as caught:
        source.start(camera.clock, paced=False)
    assert "ideo device" in str(caught.value)
    assert camera.releases == camera.opens
    source.stop()


def test_what_to_do_depends_on_what_is_wrong(tmp_path: Path) -> None:
    assert "No video device is found" in str(cannot_open(0, tmp_path))
    for number in (10, 2):
        (tmp_path / f"video{number}").touch()
    assert found_devices(tmp_path) == (str(tmp_path / "video2"), str(tmp_path / "video10"))
    assert "is not there" in str(cannot_open(0, tmp_path))
    assert str(tmp_path / "video10") in str(cannot_open(0, tmp_path))
    assert "close the other program" in str(cannot_open(2, tmp_path))
    assert "the network" in str(cannot_open("rtsp://bay2/side"))


def test_the_newest_picture_wins_and_the_dropped_are_counted() -> None:
    gate = threading.Semaphore(1)
    camera = FakeCamera(StreamClock(), gate=gate)
    source = CameraSource("/dev/video0", 640, 480, 50.0, open_capture=camera.open)
    info = source.start(camera.clock, paced=False)
    try:
        assert camera.asked_for == ("/dev/video0", 640, 480, 50.0)
        assert (info.width, info.height, info.live, info.frames) == (128, 72, True, None)
        assert "camera" in [thread.name for thread in threading.enumerate()]
        first = source.receive(5.0)
        assert first is not None
        assert first.index == 0
        assert source.receive(0.0) is None
        wait_for(lambda: camera.grabs == 1)
        gate.release(3)
        wait_for(lambda: source.dropped == 2)
        newest = source.receive(5.0)
        assert newest is not None
        assert newest.index == 3
        assert newest.image[0, 0, 0] == 4
    finally:
        gate.release(1000)
        source.stop()
    source.stop()
    assert camera.releases == 1
    with pytest.raises(EndOfStream):
        source.receive(0.0)


def test_a_lost_camera_is_told_to_the_one_who_receives() -> None:
    camera = FakeCamera(StreamClock(), lambda n: "silent" if n >= 1 else "ok")
    source = CameraSource(0, open_capture=camera.open, present=lambda _: True)
    source.start(camera.clock, paced=False)
    assert source.receive(5.0) is not None
    with pytest.raises(DeviceTrouble, match="was lost"):
        source.receive(20.0)
    source.stop()


def test_a_fault_in_the_thread_is_told_to_the_one_who_receives() -> None:
    def fail_later(n: int) -> str:
        if n:
            raise ZeroDivisionError("a fault of ours")
        return "ok"

    camera = FakeCamera(StreamClock(), fail_later)
    source = CameraSource(0, open_capture=camera.open, present=lambda _: True)
    source.start(camera.clock, paced=False)
    assert source.receive(5.0) is not None
    with pytest.raises(StationError, match="a fault of ours"):
        source.receive(20.0)
    source.stop()


def test_a_camera_thread_that_fails_once_opens_the_device_anew_and_goes_on() -> None:
    def fail_once(n: int) -> str:
        if n == 3:
            raise ZeroDivisionError("a fault of ours")
        return "ok"

    gate = threading.Semaphore(1)
    camera = FakeCamera(StreamClock(), fail_once, gate=gate)
    camera.grabs = 0
    source = CameraSource(0, open_capture=camera.open, present=lambda _: True)
    source.start(camera.clock, paced=False)
    try:
        gate.release(2)
        wait_for(lambda: camera.grabs == 3)
        camera.behave = lambda n: fail_once(n) if not source.deaths else "ok"
        gate.release(3)
        wait_for(lambda: camera.grabs == 5)
        assert source.deaths == ["ZeroDivisionError: a fault of ours"]
        assert camera.opens == 2
        assert [fault.key for fault in source.faults()] == ["thread_died"]
        assert source.receive(5.0) is not None
    finally:
        gate.release(1000)
        source.stop()


@pytest.mark.parametrize(
    ("device", "width", "fps"), [(-1, 1280, 60.0), (0, 10, 60.0), (0, 1280, 0.0)]
)
def test_settings_that_no_camera_has_are_refused(device: int, width: int, fps: float) -> None:
    with pytest.raises(BadInput, match="allowed is"):
        CameraSource(device, width, 720, fps)


@pytest.mark.parametrize(
    ("text", "kind", "device"),
    [
        ("0", CameraSource, 0),
        (" 12 ", CameraSource, 12),
        ("/dev/video3", CameraSource, "/dev/video3"),
        ("rtsp://bay2/side", CameraSource, "rtsp://bay2/side"),
        ("HTTP://bay2/side", CameraSource, "HTTP://bay2/side"),
        ("clip.mp4", ClipSource, None),
        ("2024.mp4", ClipSource, None),
    ],
)
def test_the_source_s_text_chooses_the_source(
    text: str, kind: type, device: int | str | None
) -> None:
    source = open_source(text)
    assert isinstance(source, kind)
    if isinstance(source, CameraSource):
        assert source.device == device


def test_an_empty_source_is_refused() -> None:
    with pytest.raises(BadInput, match="--source is empty"):
        open_source("  ")
