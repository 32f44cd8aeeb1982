"""The belt that waits to be set: nothing else is as loud, and it stays until it is confirmed."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from station.coach.scene import DrillStatus
from station.show import shapes
from station.show.layout import Box, Layout
from station.show.palette import BLACK, CHANGE, INK, MUTED, WHITE
from station.show.panel import fill, hazard
from station.show.text import TextBook
from station.show.wording import Wording

Image = NDArray[np.uint8]


class BeltCard:
    """Paints the card. Used by one thread."""

    def __init__(self, layout: Layout, text: TextBook, words: Wording) -> None:
        """Keep the tools."""
        self._layout = layout
        self._text = text
        self._words = words

    def paint(self, screen: Image, drill: DrillStatus) -> Box:
        """Paint what to set, what the belt is seen to run at, and how to go on.

        Args:
            screen: Changed in place.
            drill: Its `belt_speed` is what is asked; None: the belt is to stand.

        Returns:
            Where it was painted.
        """
        lay = self._layout
        box = lay.card(lay.px(330))
        stripe = lay.px(16)
        foot = round(box.h * 0.36)
        block = Box(box.x, box.y, box.w, box.h - foot)
        hazard(screen, block, CHANGE, stripe)
        inner = Box(box.x, box.y + stripe, box.w, block.h - 2 * stripe)
        fill(screen, inner, CHANGE)
        self._asked(screen, inner, drill)
        fill(screen, Box(box.x, block.bottom, box.w, foot), INK)
        self._how(screen, Box(box.x, block.bottom, box.w, foot), drill)
        return box

    def _asked(self, screen: Image, box: Box, drill: DrillStatus) -> None:
        """Paint the words, the speed as large as there is room, and up or down beside it."""
        lay, text = self._layout, self._text
        word = self._words.label("set_belt")
        speed = drill.belt_speed or self._words.label("belt_stands")
        pad = lay.px(28)
        room = box.w - 2 * pad
        small = text.fit(word, min(lay.loud, round(box.h * 0.26)), room)
        line = box.y + round(box.h * 0.07) + small
        text.draw(screen, word, (box.middle[0], line), small, BLACK, "centre")
        tall = round(box.h * 0.48)
        arrow = 0 if drill.belt_rises is None else round(tall * 0.6)
        cap = text.fit(speed, tall, room - 4 * arrow)
        base = box.bottom - round(box.h * 0.13)
        wide = text.width(speed, cap)
        text.draw(screen, speed, (box.middle[0], base), cap, BLACK, "centre")
        if drill.belt_rises is not None:
            for side in (-1, 1):
                x = box.middle[0] + side * (wide // 2 + round(arrow * 1.4))
                at = (x, base - cap // 2)
                shapes.arrow(screen, at, arrow * 0.75, drill.belt_rises, BLACK)

    def _how(self, screen: Image, box: Box, drill: DrillStatus) -> None:
        """Paint what the belt runs at now, and what confirms it."""
        lay, text, say = self._layout, self._text, self._words
        pad, cap = lay.px(28), lay.read
        room = box.w - 2 * pad
        first = box.y + round(box.h * 0.46)
        second = box.y + round(box.h * 0.86)
        confirm = say.sentence("belt_confirm")
        if drill.belt_measured is None:
            unknown = say.label("belt_unknown")
            text.draw(screen, unknown, (box.x + pad, first), text.fit(unknown, cap, room), MUTED)
        else:
            now = f"{say.label('belt_now')} {drill.belt_measured}"
            own = say.sentence("belt_by_itself", speed=drill.belt_speed or "")
            whole = text.width(f"{now}  {own}", cap)
            fitted = cap if whole <= room else max(6, cap * room // whole)
            wide = text.draw(screen, now, (box.x + pad, first), fitted, WHITE)
            pen = box.x + pad + wide + lay.px(24)
            text.draw(screen, own, (pen, first), text.fit(own, fitted, box.right - pen, 6), MUTED)
        text.draw(screen, confirm, (box.x + pad, second), text.fit(confirm, cap, room, 6), WHITE)
