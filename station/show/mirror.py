"""The one place where the picture and its points are mirrored.

Pixel-centre convention: a pixel's coordinates are those of its centre, so the centre of the
leftmost pixel of a picture `width` wide is x = 0 and mirrors to x = width - 1.
"""

from __future__ import annotations

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from station.show.framing import Framing
from station.show.layout import Box
from station.values import Floats

Image = NDArray[np.uint8]


class Mirror:
    """Lays a camera picture on the screen, mirrored; never distorted. Used by one thread.

    Only what falls into the framing's window is shown.
    """

    def __init__(self, picture: tuple[int, int], screen: tuple[int, int], frame: Framing) -> None:
        """Work out which part of the picture goes where.

        Args:
            picture: Width and height of the camera's picture, pixels.
            screen: Width and height of the screen, pixels.
            frame: How the picture is to lie; kept to within half a pixel of the screen, since
                whole pixels of the picture go onto whole pixels of the screen.
        """
        self.picture = picture
        self.screen = screen
        self.frame = frame
        across = _span(
            picture[0], frame.scale, frame.picture_xy[0], frame.screen_xy[0],
            (frame.window.x, frame.window.right),
        )  # fmt: skip
        down = _span(
            picture[1], frame.scale, frame.picture_xy[1], frame.screen_xy[1],
            (frame.window.y, frame.window.bottom),
        )  # fmt: skip
        (x0, x1, left, right), (y0, y1, top, bottom) = across, down
        self._from = (slice(y0, y1), slice(picture[0] - x1, picture[0] - x0))
        self._into = (slice(top, bottom), slice(left, right))
        self._start = np.array([x0, y0], dtype=np.float64)
        self._place = np.array([left, top], dtype=np.float64)
        self._factor = np.array([(right - left) / (x1 - x0), (bottom - top) / (y1 - y0)])
        self.box = Box(left, top, right - left, bottom - top)
        """What of the screen the picture covers."""
        same = (x1 - x0, y1 - y0) == (self.box.w, self.box.h)
        self._flipped = None if same else np.empty((y1 - y0, x1 - x0, 3), np.uint8)

    @property
    def scale(self) -> float:
        """Screen pixels per picture pixel."""
        return self.frame.scale

    def point(self, xy_px: Floats | tuple[float, float]) -> Floats:
        """Return screen points (..., 2) of image points (..., 2) as the camera sees them."""
        xy = np.array(xy_px, dtype=np.float64)
        xy[..., 0] = self.picture[0] - 1.0 - xy[..., 0]
        return (xy + 0.5 - self._start) * self._factor - 0.5 + self._place

    def picture_into(self, image: Image, screen: Image) -> None:
        """Lay the mirrored camera picture into the screen's buffer; allocates nothing."""
        part, target = image[self._from], screen[self._into]
        if self._flipped is None:
            cv2.flip(part, 1, dst=target)
            return
        cv2.flip(part, 1, dst=self._flipped)
        cv2.resize(
            self._flipped, (self.box.w, self.box.h), dst=target, interpolation=cv2.INTER_LINEAR
        )


def _span(
    size: int, scale: float, at: float, to: float, window: tuple[int, int]
) -> tuple[int, int, int, int]:
    """Return picture pixels [first, last) and the screen pixels [first, last) that they fill.

    Picture edge p (0 to size) lies at screen edge to + 0.5 + (p - at - 0.5) * scale.
    """

    def on_screen(p: float) -> float:
        return to + 0.5 + (p - at - 0.5) * scale

    first = max(0, math.ceil((window[0] - to - 0.5) / scale + at + 0.5 - 1e-9))
    last = min(size, math.floor((window[1] - to - 0.5) / scale + at + 0.5 + 1e-9))
    if last <= first:  # nothing of it is seen: one pixel in a corner keeps the sums whole
        return 0, 1, window[0], window[0] + 1
    start = min(max(round(on_screen(first)), window[0]), window[1] - 1)
    stop = min(max(round(on_screen(last)), start + 1), window[1])
    return first, last, start, stop
