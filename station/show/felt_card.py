"""The felt landings: the question after a drill, then what was felt beside what was counted.

On the floor stand ten places to choose from, and one for none, then two rows of ten, one under the
other, so that a difference shows without a word of blame.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from station.coach.scene import FeltStatus
from station.show import shapes
from station.show.layout import Box, Layout
from station.show.palette import BEAT, BLACK, MUTED, WHITE, WITHIN, Colour
from station.show.panel import back, fill
from station.show.text import TextBook
from station.show.wording import Wording

Image = NDArray[np.uint8]
TEN = 10
_APART = 0.3  # of a place, between none and the ten


class FeltCard:
    """Paints question and answer. Used by one thread."""

    def __init__(self, layout: Layout, text: TextBook, words: Wording) -> None:
        """Keep the tools."""
        self._layout = layout
        self._text = text
        self._words = words

    def paint(self, screen: Image, felt: FeltStatus) -> tuple[int, int]:
        """Paint the question, or once it is answered both counts.

        Args:
            screen: Changed in place.
            felt: The answer, and the count, which is shown only beside an answer.

        Returns:
            The first free rows of the left and the right wing, pixels.
        """
        lay, say = self._layout, self._words
        box = lay.floor()
        back(screen, box)
        fill(screen, Box(box.x, box.y, box.w, lay.px(6)), BEAT)
        line = self._wing(screen, say.label("felt"), lay.px(26), lay.read, BEAT, False)
        line += lay.gap
        if felt.good_of_ten is None:
            self._question(screen, box, felt)
            asked = say.sentence("felt_question")
            line = self._wing(screen, asked, line, lay.read, WHITE, False)
            how = say.label("felt_type")
            return line, self._wing(screen, how, lay.px(26), lay.read, MUTED, True)
        self._beside(screen, box, felt, felt.good_of_ten)
        if felt.within is not None:
            told = say.sentence(
                "felt_beside", felt=str(felt.good_of_ten), within=str(felt.within),
                judged=str(felt.judged),
            )  # fmt: skip
            line = self._wing(screen, told, line, lay.read, WHITE, False)
        return line, lay.gap

    def _wing(
        self, screen: Image, said: str, top: int, cap: int, colour: Colour, right: bool
    ) -> int:
        """Paint a text into a wing, line under line; return the row below it."""
        lay = self._layout
        at = lay.corner(right).x + lay.pad, top
        return self._text.column(screen, said, at, cap, lay.wing - 2 * lay.pad, colour)

    def _question(self, screen: Image, box: Box, felt: FeltStatus) -> None:
        """Paint ten numbered places, and one for none a little apart from them."""
        lay, text = self._layout, self._text
        room = box.w - 4 * lay.margin
        slot = min(room / (TEN + 1 + _APART), lay.px(110))
        radius = min(slot * 0.44, box.h * 0.38)
        middle = box.middle[1] + lay.px(3)
        left = box.middle[0] - (TEN + _APART) / 2.0 * slot
        for number in range(TEN + 1):
            at = (left + (number + (_APART if number else 0.0)) * slot, middle)
            typed = felt.typed
            full = typed is not None and (number == typed == 0 or 1 <= number <= typed)
            self._peg(screen, at, radius, full, BEAT)
            cap = text.fit(str(number), lay.say, round(radius * 1.5), lay.read)
            ink = BLACK if full else WHITE
            text.draw(screen, str(number), (round(at[0]), middle + cap // 2), cap, ink, "centre")

    def _beside(self, screen: Image, box: Box, felt: FeltStatus, answer: int) -> None:
        say = self._words
        rows: list[tuple[str, int, int, Colour]] = [(say.label("felt_you"), answer, TEN, BEAT)]
        if felt.within is not None:
            rows.append((say.label("felt_counted"), felt.within, felt.judged, WITHIN))
        top = box.y + self._layout.px(8)
        high = (box.bottom - top) // 2
        for number, (word, good, out_of, colour) in enumerate(rows):
            self._row(screen, Box(box.x, top + number * high, box.w, high), word, good, out_of,
                      colour)  # fmt: skip

    def _row(
        self, screen: Image, row: Box, word: str, good: int, out_of: int, colour: Colour
    ) -> None:
        """Paint a word, as many full pegs as were good and rings for the rest, and the number."""
        lay, text = self._layout, self._text
        labels = (self._words.label(key) for key in ("felt_you", "felt_counted"))
        first = 2 * lay.margin + max(text.width(label, lay.read) for label in labels)
        first += lay.px(24)
        last = text.width("10", lay.loud) + 3 * lay.margin
        slot = (row.w - first - last) / TEN
        middle = row.middle[1]
        text.draw(screen, word, (2 * lay.margin, middle + lay.read // 2), lay.read, MUTED)
        radius = min(slot * 0.4, row.h * 0.4, lay.px(24))
        for number in range(out_of):
            at = (row.x + first + (number + 0.5) * slot, middle)
            self._peg(screen, at, radius, number < good, colour)
        at_number = (row.right - 2 * lay.margin, middle + lay.loud // 2)
        text.draw(screen, str(good), at_number, lay.loud, WHITE, "right")

    def _peg(
        self, screen: Image, at: tuple[float, int], radius: float, full: bool, colour: Colour
    ) -> None:
        if full:
            shapes.disc(screen, at, radius, colour, 0)
        else:
            wide = self._layout.px(4)
            shapes.ring(screen, at, radius - wide / 2.0, colour, wide)
