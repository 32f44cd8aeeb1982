"""The hop counter: which foot, and how many hops it still has, to be seen at a glance.

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
    """Paints the counter between the corner panels. Used by one thread."""

    def __init__(self, layout: Layout, text: TextBook, words: Wording) -> None:
        """Keep the tools."""
        self._layout = layout
        self._text = text
        self._words = words
        self._kept = KeptPanel()

    def paint(self, screen: Image, hop: HopStatus) -> Box:
        """Paint the counter.

        Args:
            screen: Changed in place.
            hop: The foot and its hops.

        Returns:
            Where it was painted.
        """
        lay, room = self._layout, self._layout.top_middle()
        box = Box(room.x, room.y, room.w, round(room.h * 0.9))

        def content(image: Image, own: Box) -> None:
            self._content(image, own, hop)

        self._kept.lay(screen, box, hop, content, lay.px(20))
        return box

    def _content(self, image: Image, box: Box, hop: HopStatus) -> None:
        lay, text, say = self._layout, self._text, self._words
        left_foot = hop.foot == "left"
        size = box.h * 0.36
        edge = round(size * 0.75)
        for left, x in ((True, edge), (False, box.w - edge)):
            on = left == left_foot
            at = (x, box.h * 0.45)
            shapes.sole(image, at, size, left, on, BEAT if on else MUTED)
        side = 2 * edge
        room = box.w - 2 * side
        number = str(hop.hops_left)
        tall = text.fit(number, round(box.h * 0.44), room)
        base = round(box.h * 0.09) + tall
        text.draw(image, number, (box.w // 2, base), tall, WHITE, "centre")
        word = say.label(f"hop_{hop.foot}")
        cap = text.fit(word, lay.say, room)
        text.draw(image, word, (box.w // 2, base + round(box.h * 0.07) + cap), cap, BEAT, "centre")
        foot = f"{say.label('hops_left')}   {say.label('round')} {hop.round}/{hop.rounds}"
        cap = text.fit(foot, lay.read, box.w - 2 * lay.px(16))
        text.draw(image, foot, (box.w // 2, round(box.h * 0.96)), cap, MUTED, "centre")
