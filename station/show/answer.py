"""What the coach's last key did, or why it did nothing: a line in a free column at the edge."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from station.coach.scene import KeyAnswer
from station.show import shapes
from station.show.layout import Box, Layout
from station.show.palette import BEAT, CHANGE, GREEN, MUTED, WHITE
from station.show.panel import back, edge
from station.show.text import TextBook
from station.show.wording import Wording

Image = NDArray[np.uint8]
MOST_LINES = 3


class AnswerLine:
    """Paints the answer. Used by one thread."""

    def __init__(self, layout: Layout, text: TextBook, words: Wording) -> None:
        """Keep the tools."""
        self._layout = layout
        self._text = text
        self._words = words

    def paint(self, screen: Image, answer: KeyAnswer, top: int, right: bool) -> Box:
        """Paint the answer: a tick where the key did something, a barred ring where nothing.

        Args:
            screen: Changed in place.
            answer: What is to be said.
            top: First row that it may use, pixels.
            right: Whether it stands at the right edge.

        Returns:
            Where it was painted.
        """
        lay, column = self._layout, self._layout.column(right)
        cap = lay.cap(24)
        sign = lay.px(16)
        left = column.x + 2 * lay.px(10) + 2 * sign
        room = column.right - lay.px(10) - left
        said = self._words.sentence(answer.key, **dict(answer.values))
        lines = self._text.wrap(said, cap, room)
        while len(lines) > MOST_LINES or any(self._text.width(t, cap) > room for t in lines):
            if cap <= 6:
                break
            cap -= 1
            lines = self._text.wrap(said, cap, room)
        leading = round(cap * 1.5)
        high = max(leading * len(lines) + lay.px(14), 2 * sign + lay.px(16))
        box = Box(column.x, top, column.w, high)
        back(screen, box)
        edge(screen, box, CHANGE if answer.kind == "asks" else WHITE, lay.px(4))
        self._sign(screen, (column.x + lay.px(12) + sign, box.middle[1]), sign, answer)
        base = box.middle[1] - (len(lines) - 1) * leading // 2 + cap // 2
        for number, line in enumerate(lines):
            self._text.draw(screen, line, (left, base + number * leading), cap)
        return box

    def _sign(self, screen: Image, at: tuple[int, int], size: int, answer: KeyAnswer) -> None:
        if answer.kind == "done":
            shapes.tick(screen, at, size * 0.9, GREEN)
        elif answer.kind == "asks":
            shapes.warning(screen, at, size, BEAT)
        else:
            shapes.barred(screen, at, size * 0.85, MUTED)
