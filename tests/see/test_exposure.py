"""A camera's exposure is held, and what the camera really does is told."""

from __future__ import annotations

import cv2
import pytest

from station.clock import StreamClock
from station.see.camera import CameraSource
from station.see.exposure import HeldExposure


class Driver:
    """A camera's driver with some of its habits."""

    def __init__(self, obeys: bool = True, step: float = 1.0, says: bool = True) -> None:
        self.obeys, self.step, self.says = obeys, step, says
        self.values = {cv2.CAP_PROP_AUTO_EXPOSURE: 3.0, cv2.CAP_PROP_EXPOSURE: 166.0}
        self.asked: list[tuple[int, float]] = []

    def isOpened(self) -> bool:  # noqa: N802
        return True

    def set(self, prop: int, value: float) -> bool:
        self.asked.append((prop, value))
        if self.obeys:
            steps = round(value / self.step) * self.step
            self.values[prop] = steps if prop == cv2.CAP_PROP_EXPOSURE else value
        return self.obeys

    def get(self, prop: int) -> float:
        return self.values.get(prop, 0.0) if self.says else 0.0

    def grab(self) -> bool:
        return False

    def retrieve(self) -> tuple[bool, None]:
        return False, None

    def release(self) -> None: ...


def opened(driver: Driver, exposure_s: float | None, automatic: bool = False) -> HeldExposure:
    held = HeldExposure(exposure_s, lambda *_: driver, automatic)
    assert held("/dev/video0", 1280, 720, 60.0) is driver
    return held


@pytest.mark.parametrize(("driver", "held", "seconds"), [
    (Driver(), True, 0.004), (Driver(step=10.0), True, 0.004), (Driver(obeys=False), False, 0.0166),
    (Driver(step=100.0), False, None), (Driver(says=False), False, None),
])  # fmt: skip
def test_held_is_what_the_camera_says_when_asked_back(driver, held, seconds) -> None:
    found = opened(driver, 0.004).found
    assert (found.held, found.refused) == (held, not held)
    assert found.seconds == (None if seconds is None else pytest.approx(seconds))


def test_video4linux_counts_in_tenths_of_a_millisecond() -> None:
    driver = Driver()
    opened(driver, 0.002)
    assert driver.asked == [(cv2.CAP_PROP_AUTO_EXPOSURE, 1.0), (cv2.CAP_PROP_EXPOSURE, 20.0)]


def test_without_a_wish_nothing_is_changed() -> None:
    driver = Driver()
    found = opened(driver, None).found
    assert driver.asked == []
    assert (found.held, found.refused, found.seconds) == (False, False, pytest.approx(0.0166))


def test_it_can_be_put_back_to_automatic() -> None:
    driver = Driver()
    driver.values[cv2.CAP_PROP_AUTO_EXPOSURE] = 1.0
    opened(driver, None, automatic=True)
    assert driver.values[cv2.CAP_PROP_AUTO_EXPOSURE] == 3.0


def test_a_camera_that_is_opened_again_is_asked_again() -> None:
    driver = Driver()
    held = opened(driver, 0.004)
    driver.values[cv2.CAP_PROP_AUTO_EXPOSURE] = 3.0
    held("/dev/video0", 1280, 720, 60.0)
    assert driver.values[cv2.CAP_PROP_AUTO_EXPOSURE] == 1.0


def test_a_source_tells_its_exposure() -> None:
    held = HeldExposure(0.004, lambda *_: Driver())
    source = CameraSource("/dev/video0", open_capture=held)
    with pytest.raises(Exception, match="video0"):
        source.start(StreamClock(), True)  # it gives no picture, but it was asked
    assert source.exposure == held.found
    assert held.found.held
