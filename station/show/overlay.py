"""A drawing that stays for several pictures: drawn once, laid over each, fading if need be.

It is kept as its colour times its opacity, and what of the ground stays to be seen below it. Laid
so, a drawing takes a fraction of the time of drawing it with smooth edges anew.
"""

from __future__ import annotations

from collections.abc import Callable

import cv2
import numpy as np
from numpy.typing import NDArray

from station.show.layout import Box

Image = NDArray[np.uint8]


class Overlay:
    """Owns one drawing. Used by one thread."""

    def __init__(self) -> None:
        """Start with nothing drawn."""
        self._box = Box(0, 0, 0, 0)
        self._rooms = [np.empty(0, np.uint8) for _ in range(4)]
        self._ink, self._keep, self._faded_ink, self._faded_keep = self._pictures()

    def draw(self, box: Box, paint: Callable[[Image], None]) -> None:
        """Draw it.

        Args:
            box: Where on the screen it lies, wholly on it; an empty one: nothing is drawn.
            paint: Draws into a picture of the box's size; called twice, on black and on white.
        """
        self._box = box
        if box.w <= 0 or box.h <= 0:
            return
        self._ink, self._keep, self._faded_ink, self._faded_keep = self._pictures()
        self._ink[:] = 0
        self._keep[:] = 255
        paint(self._ink)
        paint(self._keep)
        # What shows of the ground tells the opacity.
        cv2.subtract(self._keep, self._ink, dst=self._keep)

    def _pictures(self) -> list[Image]:
        """Return four pictures of the box's size, in room that is kept for the next ones."""
        wide, high = self._box.w, self._box.h
        size = 3 * wide * high
        if size > self._rooms[0].size:
            self._rooms = [np.empty(size, np.uint8) for _ in self._rooms]
        return [room[:size].reshape(high, wide, 3) for room in self._rooms]

    def lay(self, screen: Image, opacity: float = 1.0) -> None:
        """Lay it over the screen.

        Args:
            screen: Changed in place.
            opacity: 0 to 1.
        """
        box = self._box
        if opacity <= 0.0 or box.w <= 0 or box.h <= 0:
            return
        ink, keep = self._ink, self._keep
        if opacity < 1.0:
            beta = 255.0 * (1.0 - opacity)
            cv2.convertScaleAbs(ink, dst=self._faded_ink, alpha=opacity)
            cv2.convertScaleAbs(keep, dst=self._faded_keep, alpha=opacity, beta=beta)
            ink, keep = self._faded_ink, self._faded_keep
        part = screen[box.y : box.bottom, box.x : box.right]
        cv2.multiply(part, keep, dst=part, scale=1.0 / 255.0)
        cv2.add(part, ink, dst=part)
