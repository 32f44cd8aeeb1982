"""The word of a landing, on the floor under the belt: how it was judged, and which foot it was.

`ahead` stands in front of the mark, `within` behind the knee's plumb line: a runner sees by the
word's place alone which of them it is. No verdict stands under the mark.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from station.coach.scene import LandingMark
from station.show.kept import KeptPanel
from station.show.layout import Box, Layout
from station.show.mirror import Mirror
from station.show.palette import MUTED, NIGHT, Colour, verdict_colour
from station.show.text import Align, TextBook
from station.show.wording import Wording

Image = NDArray[np.uint8]
_FADES = 6  # steps in which a word fades
_FAINT = 0.75  # a word's least strength: its contrast stays over 4.5, since it is to be read


class LandingWord:
    """Paints the word of one landing at a time. Used by one thread."""

    def __init__(self, layout: Layout, text: TextBook, words: Wording) -> None:
        """Keep the tools and the words."""
        self._layout = layout
        self._text = text
        self._kept = KeptPanel()
        self._words = {v: words.label(v).upper() for v in ("within", "ahead")}
        self._no_verdict = {True: words.label("not_measured"), False: words.label("not_told")}
        self._feet = {side: words.label(f"{side}_foot") for side in ("left", "right")}

    def paint(
        self,
        screen: Image,
        mark: LandingMark,
        mirror: Mirror,
        facing: float,
        opacity: float,
        silent: bool,
    ) -> None:
        """Paint it into its row of the floor (`Layout.word_row`).

        Args:
            screen: Changed in place.
            mark: The landing; its plumb line and ankle on the belt are known.
            mirror: Puts its points on the screen.
            facing: +1 where ahead is to the right on the screen, -1 to the left.
            opacity: Over 0, to 1; the word never gets too faint to be read.
            silent: Name the foot alone.
        """
        lay, text, verdict = self._layout, self._text, mark.verdict
        foot = self._feet[mark.side]
        said = self._no_verdict[mark.told] if verdict is None else self._words[verdict]
        cap = lay.read if verdict is None else lay.loud
        between = lay.px(18)
        if silent:
            said, between = "", 0
        wide = text.width(said, cap) + between + text.width(foot, lay.read)
        left, align = self._place(mark, mirror, facing, wide)
        inks = _faded(verdict_colour(verdict), opacity), _faded(MUTED, opacity)

        def content(image: Image, own: Box) -> None:
            x, base = (own.w if align == "right" else 0), lay.word_line - row.y
            for part, size, ink in zip((said, foot), (cap, lay.read), inks, strict=True):
                text.draw(image, part, (x, base), size, ink, align)
                beside = text.width(part, size) + between
                x += -beside if align == "right" else beside

        row = lay.word_row
        box = Box(round(left), row.y, wide, row.h)
        self._kept.lay(screen, box, (said, foot, inks, align), content)

    def _place(
        self, mark: LandingMark, mirror: Mirror, facing: float, wide: int
    ) -> tuple[float, Align]:
        """Return the left end of a word `wide` pixels long, and from which end it is written."""
        lay, verdict = self._layout, mark.verdict
        plumb, ankle = (float(mirror.point(p)[0]) for p in (mark.plumb_px, mark.ankle_on_belt_px))
        low, high = float(lay.margin), float(lay.width - lay.margin - wide)
        if verdict is None:
            return min(max(ankle - wide / 2.0, low), high), "left"
        way = facing if verdict == "ahead" else -facing
        near = (ankle if verdict == "ahead" else plumb) + way * lay.px(24)
        left = near if way > 0.0 else near - wide
        return min(max(left, low), high), "left" if way > 0.0 else "right"


def _faded(colour: Colour, opacity: float) -> Colour:
    """Return a text's colour on the floor while it fades, in few steps: each is rendered once."""
    share = _FAINT + (1.0 - _FAINT) * math.ceil(opacity * _FADES) / _FADES
    blue, green, red = (
        round(share * c + (1.0 - share) * n) for c, n in zip(colour, NIGHT, strict=True)
    )
    return blue, green, red
