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


class _Room:
    """Memory for one picture, kept for the next one that fits in."""

    def __init__(self) -> None:
        self._memory = np.empty(0, np.uint8)

    def picture(self, box: Box) -> Image:
        """Return (h, w, 3): a picture as large as the box; for a box of the same size the same."""
        size = 3 * box.w * box.h
        if size > self._memory.size:
            self._memory = np.empty(size, np.uint8)
        return self._memory[:size].reshape(box.h, box.w, 3)


class Overlay:
    """Owns one drawing. Used by one thread."""

    def __init__(self) -> None:
        """Start with nothing drawn."""
        self._box = Box(0, 0, 0, 0)
        self._ink, self._keep = _Room(), _Room()
        self._faded_ink, self._faded_keep = _Room(), _Room()  # empty until it first fades

    def draw(self, box: Box, paint: Callable[[Image], None]) -> None:
        """Draw it.

        Args:
            box: Where on the screen it lies, wholly on it; an empty one: nothing is drawn.
            paint: Draws into a picture of the box's size; called twice, on black and on white.
        """
        self._box = box
        if box.w <= 0 or box.h <= 0:
            return
        ink, keep = self._ink.picture(box), self._keep.picture(box)
        ink[:] = 0
        keep[:] = 255
        paint(ink)
        paint(keep)
        # What shows of the ground tells the opacity.
        cv2.subtract(keep, ink, dst=keep)

    def lay(self, screen: Image, opacity: float = 1.0) -> None:
        """Lay it over the screen.

        Args:
            screen: Changed in place.
            opacity: 0 to 1.
        """
        box = self._box
        if opacity <= 0.0 or box.w <= 0 or box.h <= 0:
            return
        ink, keep = self._ink.picture(box), self._keep.picture(box)
        if opacity < 1.0:
            beta = 255.0 * (1.0 - opacity)
            faded_ink, faded_keep = self._faded_ink.picture(box), self._faded_keep.picture(box)
            cv2.convertScaleAbs(ink, dst=faded_ink, alpha=opacity)
            cv2.convertScaleAbs(keep, dst=faded_keep, alpha=opacity, beta=beta)
            ink, keep = faded_ink, faded_keep
        part = screen[box.y : box.bottom, box.x : box.right]
        cv2.multiply(part, keep, dst=part, scale=1.0 / 255.0)
        cv2.add(part, ink, dst=part)
