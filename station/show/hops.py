"""The hop counter on the floor: which foot, and how many hops it still has.

The screen is a mirror, so the runner's left shoe stands at the left.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from station.coach.scene import HopStatus
from station.show import shapes
from station.show.kept import KeptPanel
from station.show.layout import Box, Layout
from station.show.palette import BEAT, MUTED, WHITE
from station.show.text import TextBook
from station.show.wording import Wording

Image = NDArray[np.uint8]


class HopCounter:
    """Paints the counter under the belt. Used by one thread."""

    def __init__(self, layout: Layout, text: TextBook, words: Wording) -> None:
        """Keep the tools."""
        self._layout = layout
        self._text = text
        self._words = words
        self._kept = KeptPanel()

    def paint(
        self, screen: Image, hop: HopStatus, marked: bool = True, crowded: bool = False
    ) -> Box:
        """Paint the counter.

        Args:
            screen: Changed in place.
            hop: The foot and its hops.
            marked: Whether landings are marked; where they are not, an upright floor says so,
                unless it is crowded.
            crowded: The coach's things stand below it (`Layout.floor`).

        Returns:
            Where it was painted.
        """
        box = self._layout.floor(crowded)

        def content(image: Image, own: Box) -> None:
            self._content(image, own, hop, marked, self._layout.upright and not crowded)

        self._kept.lay(screen, box, (hop, marked, crowded), content)
        return box

    def _content(self, image: Image, box: Box, hop: HopStatus, marked: bool, tall: bool) -> None:
        lay, text, say = self._layout, self._text, self._words
        left_foot = hop.foot == "left"
        size = min(box.h * 0.44, box.w * 0.14)
        edge = round(size * 0.9)
        for left, x in ((True, edge), (False, box.w - edge)):
            on = left == left_foot
            shapes.sole(image, (x, box.h * 0.44), size, left, on, BEAT if on else MUTED)
        number = str(hop.hops_left)
        word = say.label(f"hop_{hop.foot}")
        of_rounds = f"{say.label('round')} {hop.round}/{hop.rounds}"
        foot = f"{say.label('hops_left')}   {of_rounds}"
        large = min(lay.cap(84), round(box.h * 0.62))
        if tall:  # one under the other
            middle = box.w // 2
            line = round(box.h * 0.08) + large
            text.draw(image, number, (middle, line), large, WHITE, "centre")
            line += lay.px(34) + lay.say
            cap = text.fit(word, lay.say, box.w - 4 * edge, lay.read)
            text.draw(image, word, (middle, line), cap, BEAT, "centre")
            small = text.fit(foot, lay.read, box.w - 2 * lay.pad)
            low = box.h - lay.px(26)
            if not marked:
                said = say.label("no_marks")
                fitted = text.fit(said, lay.read, box.w - 2 * lay.pad, lay.read)
                text.draw(image, said, (middle, low), fitted, MUTED, "centre")
                low -= lay.px(17) + lay.read
            text.draw(image, foot, (middle, low), small, MUTED, "centre")
            return
        # The number and what it counts stand side by side, as wide as they are, in the middle.
        room = box.w - 4 * edge - text.width("00", large) - lay.px(30)
        cap = text.fit(word, lay.say, room, lay.read)
        if text.width(foot, lay.read) > room:
            foot = of_rounds  # the large number says by itself what it is
        small = text.fit(foot, lay.read, room)
        wide = max(text.width(word, cap), text.width(foot, small))
        first = text.width(number, large) + lay.px(30)
        pen = (box.w - first - wide) // 2
        middle = round(box.h * 0.46)
        text.draw(image, number, (pen, middle + large // 2), large, WHITE)
        text.draw(image, word, (pen + first, middle - lay.px(10)), cap, BEAT)
        text.draw(image, foot, (pen + first, middle + lay.px(14) + small), small, MUTED)
