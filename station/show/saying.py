"""The one sentence, and the small notices."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from station.coach.scene import Sentence, Tone
from station.show import shapes
from station.show.layout import Box, Layout
from station.show.palette import AHEAD, MUTED, VERMILLION, WHITE, WITHIN, Colour
from station.show.panel import back, edge
from station.show.text import TextBook
from station.show.wording import Wording

Image = NDArray[np.uint8]

TONE_COLOUR: dict[Tone, Colour] = {
    "correction": AHEAD, "praise": WITHIN, "calm": MUTED, "warning": VERMILLION,
}  # fmt: skip


def tone_sign(
    screen: Image, centre: tuple[float, float], size: float, tone: Tone, back_x: float
) -> None:
    """Draw a sentence's sign: wedge (correction), peg (praise), bar (calm), triangle (warning)."""
    if tone == "correction":
        shapes.verdict_mark(screen, centre, size, "ahead", AHEAD, (back_x, 0.0))
    elif tone == "praise":
        shapes.verdict_mark(screen, centre, size, "within", WITHIN, (back_x, 0.0))
    elif tone == "warning":
        shapes.warning(screen, centre, size * 1.1, VERMILLION)
    else:
        shapes.line(
            screen, (centre[0] - size * 0.8, centre[1]), (centre[0] + size * 0.8, centre[1]),
            MUTED, max(3, round(size * 0.3)), 0,
        )  # fmt: skip


class Saying:
    """Paints the sentence in the top band and the notices. Used by one thread."""

    def __init__(self, layout: Layout, text: TextBook, words: Wording) -> None:
        """Keep the tools."""
        self._layout = layout
        self._text = text
        self._words = words

    def sentence_text(self, sentence: Sentence) -> str:
        """Return the sentence in the words' language, its fields filled."""
        return self._words.sentence(sentence.key, **dict(sentence.values))

    def paint(self, screen: Image, sentence: Sentence, facing: float) -> None:
        """Paint the sentence between the corner panels, as high as it needs."""
        lay, room = self._layout, self._layout.top_middle()
        sign = lay.px(24)
        left = room.x + round(3.6 * sign) + lay.px(8)
        lines, cap = self.lines(sentence, lay.say, room.right - lay.px(14) - left, 3)
        leading = round(cap * 1.6)
        high = leading * (len(lines) - 1) + cap + 2 * lay.px(24)
        box = Box(room.x, room.y, room.w, high)
        back(screen, box, lay.px(20))
        centre = (room.x + lay.px(12) + sign * 1.3, box.middle[1])
        tone_sign(screen, centre, sign, sentence.tone, -facing)
        for number, line in enumerate(lines):
            base = box.y + lay.px(24) + cap + number * leading
            self._text.draw(screen, line, (left, base), cap)

    def lines(
        self, sentence: Sentence, cap: int, room: int, most: int
    ) -> tuple[tuple[str, ...], int]:
        """Return the sentence as at most `most` lines if it can be, and their capital height."""
        text = self.sentence_text(sentence)
        smallest = max(8, round(cap * 0.7))
        while True:
            lines = self._text.wrap(text, cap, room)
            fits = len(lines) <= most and all(self._text.width(t, cap) <= room for t in lines)
            if fits or cap <= smallest:
                return lines, cap
            cap -= max(1, cap // 16)

    def notices(self, screen: Image, notices: Sequence[str], top: int, right: bool = True) -> None:
        """Paint up to three notices, small, in a column at one edge.

        Args:
            screen: Changed in place.
            notices: Ready text, the most important first.
            top: First row that they may use, pixels.
            right: Whether the column is at the right edge.
        """
        lay, cap, box = self._layout, self._layout.note, self._layout.corner(right)
        line_high = round(cap * 1.65)
        room = box.w - lay.px(22)
        for notice in notices[:3]:
            lines = self._text.wrap(notice, cap, room)
            if len(lines) > 3:  # the last one then ends with an ellipsis
                lines = (*lines[:2], " ".join(lines[2:]))
            high = line_high * len(lines) + lay.px(8)
            place = Box(box.x, top, box.w, high)
            back(screen, place)
            edge(screen, place, WHITE, lay.px(4))
            for number, line in enumerate(lines):
                base = top + lay.px(4) + round(cap * 1.3) + number * line_high
                shown = self._text.shorten(line, cap, room)
                self._text.draw(screen, shown, (box.x + lay.px(14), base), cap)
            top += high + lay.px(6)
