"""A camera that gives made pictures at its own pace, on a clock moved by hand."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import cv2
import numpy as np

from station.clock import StreamClock
from station.errors import DeviceTrouble
from station.ports import EndOfStream, SourceInfo
from station.values import Frame


def scenery(width: int = 640, height: int = 360, level: float = 110.0) -> np.ndarray:
    """A grey wall with sharp boxes on it."""
    image = np.full((height, width, 3), level, np.uint8)
    for x in range(40, width - 40, 90):
        image[height // 3 : height // 2, x : x + 40] = min(255.0, level + 90.0)
    return image


class StillCamera:
    """Gives `picture(number)` every 1/fps seconds, `count` of them at most."""

    def __init__(
        self,
        clock: StreamClock,
        fps: float = 60.0,
        picture: Callable[[int], np.ndarray] | None = None,
        count: int | None = None,
        trouble: str | None = None,
        silent: bool = False,
    ) -> None:
        self.clock, self.fps, self.count = clock, fps, count
        self.picture = picture or noisy
        self.trouble, self.silent = trouble, silent
        self.index = 0
        self.stopped = 0

    def start(self, clock: object, paced: bool) -> SourceInfo:
        if self.trouble:
            raise DeviceTrouble(self.trouble)
        height, width = self.picture(0).shape[:2]
        return SourceInfo("camera 0", width, height, self.fps, live=True)

    def receive(self, timeout_s: float) -> Frame | None:
        if self.count is not None and self.index >= self.count:
            raise EndOfStream()
        if self.silent:
            self.clock.move_to(self.clock.now_s() + timeout_s)
            return None
        self.clock.move_to(self.clock.now_s() + 1.0 / self.fps)
        self.index += 1
        return Frame(self.clock.now_s(), self.index - 1, self.picture(self.index - 1))

    def stop(self) -> None:
        self.stopped += 1


def noisy(number: int) -> np.ndarray:
    """The scenery with the noise of a real sensor; another one for each of sixteen numbers."""
    return spoiled(number % 16, 0.0)


@lru_cache(maxsize=64)
def spoiled(number: int, sigma_px: float, noise: float = 3.0) -> np.ndarray:
    """The scenery out of focus and with noise; read only."""
    image = scenery()
    soft = cv2.GaussianBlur(image, (0, 0), sigma_px) if sigma_px else image
    with_noise = soft + np.random.default_rng(number).normal(0.0, noise, image.shape)
    made = np.clip(with_noise, 0, 255).astype(np.uint8)
    made.flags.writeable = False
    return made
