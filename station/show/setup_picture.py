"""The camera's own picture on the set-up's page, not mirrored, with what was marked in it."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from station.coach.setup.page import Grade, Mark
from station.show import shapes
from station.show.layout import Box
from station.show.palette import AHEAD, BEAT, INK, MUTED, VERMILLION, WITHIN, Colour
from station.show.panel import fill

Image = NDArray[np.uint8]
LINE_COLOUR: dict[Grade, Colour] = {
    "good": BEAT, "open": MUTED, "look": AHEAD, "bad": VERMILLION,
}  # fmt: skip
_ZOOM = 6
_LOUPE = (228, 156)
"""Width and height of the enlarged place, design pixels."""


class PictureFrame:
    """Fits a picture into its place, and knows which of its pixels is where."""

    def __init__(self, place: Box) -> None:
        """Keep the place; nothing is in it yet."""
        self.place = place
        self._scale = 1.0
        self._origin = (float(place.x), float(place.y))
        self._size = (0, 0)

    def paint(self, screen: Image, picture: Image | None, unit: float, fine: bool = False) -> None:
        """Lay the picture into its place; None: an empty, dark one.

        Args:
            screen: Changed in place.
            picture: (h, w, 3) BGR as the camera sees it.
            unit: Screen pixels per design pixel.
            fine: Thin things are to be seen: takes three times as long.
        """
        fill(screen, self.place, INK)
        if picture is None:
            self._size = (0, 0)
            cv2.rectangle(
                screen, (self.place.x, self.place.y),
                (self.place.right - 1, self.place.bottom - 1), MUTED, max(1, round(2 * unit)),
            )  # fmt: skip
            return
        high, wide = picture.shape[:2]
        self._size = (wide, high)
        self._scale = min(self.place.w / wide, self.place.h / high)
        size = (round(wide * self._scale), round(high * self._scale))
        x = self.place.x + (self.place.w - size[0]) // 2
        y = self.place.y + (self.place.h - size[1]) // 2
        self._origin = (float(x), float(y))
        # A thin string must not come and go as it is made smaller.
        way = cv2.INTER_AREA if fine and self._scale < 1.0 else cv2.INTER_LINEAR
        screen[y : y + size[1], x : x + size[0]] = cv2.resize(picture, size, interpolation=way)

    def on_screen(self, point: tuple[float, float]) -> tuple[float, float]:
        """Return where a point of the picture is on the screen."""
        return (
            self._origin[0] + point[0] * self._scale - 0.5,
            self._origin[1] + point[1] * self._scale - 0.5,
        )

    def in_picture(self, x: float, y: float) -> tuple[float, float] | None:
        """Return the point of the picture under a point of the screen; None: beside it."""
        if not self._size[0]:
            return None
        px = (x + 0.5 - self._origin[0]) / self._scale
        py = (y + 0.5 - self._origin[1]) / self._scale
        inside = 0.0 <= px < self._size[0] and 0.0 <= py < self._size[1]
        return (px, py) if inside else None

    def marks(self, screen: Image, marks: tuple[Mark, ...], unit: float) -> None:
        """Draw what was marked."""
        if not self._size[0]:
            return
        for mark in marks:
            colour = LINE_COLOUR[mark.grade]
            places = [self.on_screen(point) for point in mark.points]
            if mark.kind == "line" and len(places) == 2:
                shapes.line(screen, places[0], places[1], colour, max(1, round(2 * unit)), 2)
            elif mark.kind == "point":
                for at in places:  # hollow: what it marks is to be seen
                    shapes.ring(screen, at, 9.0 * unit, INK, max(3, round(5 * unit)))
                    shapes.ring(screen, at, 9.0 * unit, colour, max(1, round(2 * unit)))
            elif mark.kind == "body":
                for at in places:
                    shapes.disc(screen, at, 3.0 * unit, WITHIN, 1)

    def loupe(self, screen: Image, picture: Image, at: tuple[float, float], unit: float) -> None:
        """Show a place of the picture enlarged, in that corner of it that is further away."""
        wide, high = (max(_ZOOM, round(s * unit / _ZOOM)) for s in _LOUPE)
        x0, y0 = at[0] - wide / 2.0, at[1] - high / 2.0
        matrix = np.array([[_ZOOM, 0.0, -_ZOOM * x0], [0.0, _ZOOM, -_ZOOM * y0]])
        # OpenCV counts a pixel's middle as whole, the station as a half.
        matrix[:, 2] += 0.5 * _ZOOM - 0.5
        shown = cv2.warpAffine(
            picture, matrix, (wide * _ZOOM, high * _ZOOM), flags=cv2.INTER_NEAREST
        )
        h, w = shown.shape[:2]
        left = self.on_screen(at)[0] > self.place.middle[0]
        gap = round(8 * unit)
        x = self.place.x + gap if left else self.place.right - w - gap
        y = self.place.y + gap
        screen[y : y + h, x : x + w] = shown
        centre = (x + w / 2.0 - 0.5, y + h / 2.0 - 0.5)
        for step in ((1.0, 0.0), (0.0, 1.0)):
            for way in (-1.0, 1.0):
                near = (centre[0] + way * 8 * step[0], centre[1] + way * 8 * step[1])
                far = (centre[0] + way * 40 * step[0], centre[1] + way * 40 * step[1])
                shapes.line(screen, near, far, BEAT, 1, 1)
        cv2.rectangle(screen, (x, y), (x + w - 1, y + h - 1), BEAT, max(1, round(2 * unit)))
