"""The places of a page that can be touched: a field with a rim, what it does, and its key."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from station.coach.choice import Choice
from station.show import shapes
from station.show.layout import Box, Layout
from station.show.palette import BEAT, GREEN, MUTED, WHITE, Colour
from station.show.panel import frame
from station.show.text import TextBook
from station.show.wording import Wording

Image = NDArray[np.uint8]
_SIGNS = 2
"""A literal label of so few signs says itself what its key is: it stands alone, and larger."""
_FACE_ROOM = 150
"""Narrower places do without the picture of their key, design pixels."""


class TouchPlaces:
    """Paints a page's places and knows where they are. Used by one thread."""

    def __init__(
        self, screen: Image, lay: Layout, words: Wording, text: TextBook, cap: int, ground: Colour
    ) -> None:
        """Begin with none.

        Args:
            screen: (h, w, 3) BGR, painted on.
            lay: Gives sizes.
            words: Gives the labels.
            text: Renders them.
            cap: Capital height of a label, screen pixels, where its place is high enough; all else
                of a place goes with it.
            ground: Colour of a place.
        """
        self._screen, self._lay, self._words, self._text = screen, lay, words, text
        self._cap, self._ground = cap, ground
        self._found: list[tuple[str, Box]] = []

    def clear(self) -> None:
        """Forget the places of the page before."""
        self._found = []

    def add(self, name: str, box: Box) -> None:
        """Keep a place that is painted elsewhere, screen pixels."""
        self._found.append((name, box))

    def at(self, x: float, y: float) -> str | None:
        """Return the id of the place at a point of the screen, pixels; None: none."""
        for name, box in self._found:
            if box.x <= x < box.right and box.y <= y < box.bottom:
                return name
        return None

    @property
    def all(self) -> tuple[tuple[str, Box], ...]:
        """Each place's id and where it is, screen pixels, in order of painting."""
        return tuple(self._found)

    def paint(self, choice: Choice, box: Box, strong: bool = False) -> None:
        """Paint a place and keep it.

        Args:
            choice: What it does.
            box: Where, screen pixels.
            strong: It is the way on: its rim is bright.
        """
        self.add(choice.id, box)
        screen, text = self._screen, self._text
        cap = min(self._cap, round(box.h * 0.42))
        edge = round(0.2 * cap) if choice.chosen or strong else self._lay.px(2)
        rim = GREEN if choice.chosen else BEAT if strong else MUTED
        frame(screen, box, rim, edge, self._ground)
        label = choice.label if choice.literal else self._words.sentence(choice.label)
        if choice.literal and len(label) <= _SIGNS:
            fitted = text.fit(label, round(cap * 1.15), box.w - self._lay.px(10))
            at = (box.middle[0], box.y + (box.h + cap) // 2)
            text.draw(screen, label, at, fitted, WHITE, "centre")
            return
        left, right = box.x + self._lay.px(12), box.right - self._lay.px(12)
        if choice.face and box.w > self._lay.px(_FACE_ROOM):
            left += self._face(choice.face, left, box, cap) + round(0.63 * cap)
        if choice.chosen:
            shapes.tick(screen, (right - cap * 0.7, box.middle[1]), cap * 0.6, GREEN)
            right -= round(1.9 * cap)
        fitted = text.fit(label, cap, right - left, self._lay.px(13))
        shown = text.shorten(label, fitted, right - left)
        text.draw(screen, shown, (left, box.y + (box.h + fitted) // 2), fitted, WHITE)

    def _face(self, face: str, left: int, box: Box, cap: int) -> int:
        """Paint a key with what stands on it; return its width."""
        small, pad = round(cap * 0.8), round(0.74 * cap)
        wide, high = self._text.width(face, small) + pad, small + pad
        y = box.y + (box.h - high) // 2
        corner = (left + wide, y + high)
        cv2.rectangle(self._screen, (left, y), corner, BEAT, self._lay.px(2))
        at = (left + wide // 2, y + (high + small) // 2)
        self._text.draw(self._screen, face, at, small, BEAT, "centre")
        return wide
