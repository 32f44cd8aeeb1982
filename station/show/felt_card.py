"""The felt landings: the question after a drill, then what was felt beside what was counted.

Two rows of ten, one under the other, so that a difference shows without a word of blame.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from station.coach.scene import FeltStatus
from station.show import shapes
from station.show.layout import Box, Layout
from station.show.palette import BEAT, MUTED, WHITE, WITHIN, Colour
from station.show.panel import back, edge
from station.show.text import TextBook
from station.show.wording import Wording

Image = NDArray[np.uint8]
TEN = 10


class FeltCard:
    """Paints the card. Used by one thread."""

    def __init__(self, layout: Layout, text: TextBook, words: Wording) -> None:
        """Keep the tools."""
        self._layout = layout
        self._text = text
        self._words = words

    def paint(self, screen: Image, felt: FeltStatus) -> Box:
        """Paint the question, or once it is answered both counts.

        Args:
            screen: Changed in place.
            felt: The answer, and the count, which is shown only beside an answer.

        Returns:
            Where it was painted.
        """
        box = self._layout.card(self._layout.px(330))
        back(screen, box, self._layout.px(36))
        cut = self._layout.px(36)
        edge(screen, Box(box.x, box.y + cut, box.w, box.h - cut), BEAT, self._layout.px(8))
        if felt.good_of_ten is None:
            self._question(screen, box, felt)
        else:
            self._beside(screen, box, felt, felt.good_of_ten)
        return box

    def _question(self, screen: Image, box: Box, felt: FeltStatus) -> None:
        lay, text = self._layout, self._text
        pad = lay.px(40)
        room = box.w - 2 * pad
        asked = self._words.sentence("felt_question")
        cap = text.fit(asked, lay.say, room)
        text.draw(screen, asked, (box.x + pad, box.y + round(box.h * 0.26)), cap)
        # The same ten places as the answer's: who has answered once, knows them.
        first, slot = self._places(room)
        middle = box.y + round(box.h * 0.5)
        for number in range(1, TEN + 1):
            x = box.x + pad + first + (number - 0.5) * slot
            full = felt.typed is not None and number <= felt.typed
            self._peg(screen, (x, middle), full, BEAT)
            at = (round(x), middle + lay.px(36) + lay.read)
            text.draw(screen, str(number), at, lay.read, WHITE, "centre")
        how = self._words.label("felt_type")
        cap = text.fit(how, lay.read, room)
        text.draw(screen, how, (box.x + pad, box.y + round(box.h * 0.88)), cap, MUTED)

    def _beside(self, screen: Image, box: Box, felt: FeltStatus, answer: int) -> None:
        lay, say = self._layout, self._words
        pad = lay.px(40)
        rows: list[tuple[str, int, int, Colour]] = [(say.label("felt_you"), answer, TEN, BEAT)]
        if felt.within is not None:
            rows.append((say.label("felt_counted"), felt.within, felt.judged, WITHIN))
        for number, (word, good, out_of, colour) in enumerate(rows):
            middle = box.y + round(box.h * (0.24 + 0.3 * number))
            self._pegs(screen, Box(box.x + pad, middle, box.w - 2 * pad, 0), word, good, out_of,
                       colour)  # fmt: skip
        if felt.within is None:
            return
        told = say.sentence(
            "felt_beside", felt=str(answer), within=str(felt.within), judged=str(felt.judged)
        )
        cap = self._text.fit(told, lay.read, box.w - 2 * pad)
        self._text.draw(screen, told, (box.x + pad, box.y + round(box.h * 0.88)), cap)

    def _pegs(
        self, screen: Image, row: Box, word: str, good: int, out_of: int, colour: Colour
    ) -> None:
        """Paint a word, as many full pegs as were good and rings for the rest, and the number."""
        lay, text = self._layout, self._text
        first, slot = self._places(row.w)
        cap = text.fit(word, lay.read, first - lay.px(16))
        text.draw(screen, word, (row.x, row.y + cap // 2), cap)
        for number in range(out_of):
            at = (row.x + first + (number + 0.5) * slot, row.y)
            self._peg(screen, at, number < good, colour)
        text.draw(screen, str(good), (row.right, row.y + lay.loud // 2), lay.loud, WHITE, "right")

    def _places(self, room: int) -> tuple[int, float]:
        """Return where the ten pegs begin in a row so wide, and how far apart they are."""
        first, last = self._layout.px(220), self._layout.px(110)
        return first, (room - first - last) / TEN

    def _peg(self, screen: Image, at: tuple[float, int], full: bool, colour: Colour) -> None:
        if full:
            shapes.disc(screen, at, self._layout.px(24), colour)
        else:
            shapes.ring(screen, at, self._layout.px(22), colour, self._layout.px(4))
