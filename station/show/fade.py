"""Painting something see-through: drawn at full strength on a copy, then blended back."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager

import cv2
import numpy as np
from numpy.typing import NDArray

from station.values import Floats

Image = NDArray[np.uint8]


class Fader:
    """Owns the scratch buffer that fading things are drawn on."""

    def __init__(self, width: int, height: int) -> None:
        """Make the scratch buffer, as large as the screen."""
        self._scratch = np.empty((height, width, 3), np.uint8)

    @contextmanager
    def over(
        self, screen: Image, reach: Sequence[Floats], margin: int, opacity: float
    ) -> Iterator[tuple[Image, Floats]]:
        """Give a copy of part of the screen to draw on; blend it back at the end.

        Args:
            screen: Changed in place.
            reach: Screen points that the drawing will touch.
            margin: Added on every side, pixels.
            opacity: 0 to 1; 1 needs no copy.

        Yields:
            The layer to draw on and what to subtract from screen points to be on it.
        """
        if opacity >= 1.0:
            yield screen, np.zeros(2)
            return
        points = np.stack([np.asarray(p, dtype=np.float64) for p in reach])
        high, wide = screen.shape[:2]
        x0, y0 = np.clip(points.min(axis=0) - margin, 0, (wide, high)).astype(int)
        x1, y1 = np.clip(points.max(axis=0) + margin, 0, (wide, high)).astype(int)
        if x0 >= x1 or y0 >= y1:
            yield self._scratch[:1, :1], np.array([1e6, 1e6])
            return
        target = screen[y0:y1, x0:x1]
        layer = self._scratch[y0:y1, x0:x1]
        np.copyto(layer, target)
        yield layer, np.array([float(x0), float(y0)])
        cv2.addWeighted(layer, opacity, target, 1.0 - opacity, 0.0, dst=target)
