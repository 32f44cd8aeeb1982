"""The one sentence, and the small notices."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from station.coach.scene import Sentence, Tone
from station.show import shapes
from station.show.kept import KeptPanel
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
    """Paints the sentence on the floor, and the notices. Used by one thread."""

    def __init__(self, layout: Layout, text: TextBook, words: Wording) -> None:
        """Keep the tools."""
        self._layout = layout
        self._text = text
        self._words = words
        self._kept = KeptPanel()

    def sentence_text(self, sentence: Sentence) -> str:
        """Return the sentence in the words' language, its fields filled."""
        return self._words.sentence(sentence.key, **dict(sentence.values))

    def paint(self, screen: Image, sentence: Sentence, facing: float) -> None:
        """Paint the sentence under the belt, with the sign of its tone before it."""
        key = (sentence, facing)

        def content(image: Image, own: Box) -> None:
            self._content(image, own, sentence, facing)

        self._kept.lay(screen, self._layout.sentence(), key, content)

    def _content(self, screen: Image, box: Box, sentence: Sentence, facing: float) -> None:
        lay = self._layout
        sign = round(lay.say * 0.5)
        indent = round(3.6 * sign)
        lines, cap = self.lines(sentence, lay.say, box.w - indent, lay.sentence_rows)
        leading = round(cap * 1.5)
        wide = max(self._text.width(line, cap) for line in lines)
        left = box.x + (box.w - wide + indent) // 2
        high = leading * (len(lines) - 1) + cap
        base = box.y + (box.h - lay.px(10) - high) // 2 + cap
        centre = (float(left - indent + sign * 1.4), base - cap + high / 2.0)
        tone_sign(screen, centre, sign, sentence.tone, -facing)
        for number, line in enumerate(lines):
            self._text.draw(screen, line, (left, base + number * leading), cap)

    def rows(self, texts: Sequence[str]) -> int:
        """Return how many rows the longest of some sentences needs at its smallest size."""
        lay, box = self._layout, self._layout.sentence()
        room = box.w - round(3.6 * round(lay.say * 0.5))
        return max((len(self._text.wrap(text, lay.read, room)) for text in texts), default=1)

    def lines(
        self, sentence: Sentence, cap: int, room: int, most: int
    ) -> tuple[tuple[str, ...], int]:
        """Return the sentence as at most `most` lines if it can be, and their capital height."""
        text = self.sentence_text(sentence)
        smallest = min(cap, self._layout.read)
        while True:
            lines = self._text.wrap(text, cap, room)
            fits = len(lines) <= most and all(self._text.width(t, cap) <= room for t in lines)
            if fits or cap <= smallest:
                return lines, cap
            cap -= max(1, cap // 16)

    def notices(self, screen: Image, notices: Sequence[str], box: Box) -> int:
        """Paint up to three notices, small, in a column at one edge.

        Args:
            screen: Changed in place.
            notices: Ready text, the most important first; those that the box has no room for are
                left out.
            box: What of the column they may use.

        Returns:
            The first row below them.
        """
        lay, cap, top = self._layout, self._layout.note, box.y
        line_high = round(cap * 1.65)
        room = box.w - lay.pad - lay.px(8)
        for notice in notices[:3]:
            lines = self._text.wrap(notice, cap, room)
            if len(lines) > 3:  # the last one then ends with an ellipsis
                lines = (*lines[:2], " ".join(lines[2:]))
            high = line_high * len(lines) + lay.px(8)
            if top + high > box.bottom:
                break
            place = Box(box.x, top, box.w, high)
            back(screen, place)
            edge(screen, place, WHITE, lay.px(4))
            for number, line in enumerate(lines):
                base = top + lay.px(4) + round(cap * 1.3) + number * line_high
                shown = self._text.shorten(line, cap, room)
                self._text.draw(screen, shown, (box.x + lay.pad, base), cap)
            top += high + lay.px(6)
        return top
