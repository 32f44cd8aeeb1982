"""The belt that waits to be set: the floor asks, and it stays until it is confirmed."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from station.coach.scene import DrillStatus, Scene
from station.show import shapes
from station.show.cards import Cards
from station.show.drill import place
from station.show.layout import Layout
from station.show.palette import CHANGE, MUTED, WHITE, Colour
from station.show.text import TextBook
from station.show.wording import Wording

Image = NDArray[np.uint8]


class BeltCard:
    """Paints a belt that waits. Used by one thread."""

    def __init__(self, layout: Layout, text: TextBook, words: Wording, cards: Cards) -> None:
        """Keep the tools."""
        self._layout = layout
        self._text = text
        self._words = words
        self._cards = cards

    def paint(self, screen: Image, scene: Scene, drill: DrillStatus) -> tuple[int, int]:
        """Paint what to set, what the belt is seen to run at, and how to go on.

        Args:
            screen: Changed in place.
            scene: Whether the coach's things have a part of the floor.
            drill: Its `belt_speed` is what is asked; None: the belt is to stand.

        Returns:
            The first free rows of the left and the right wing, pixels.
        """
        lay, say = self._layout, self._words
        confirm = say.sentence("belt_confirm")
        below: list[str] = []
        says_below = self._cards.says_below(scene)
        left, right = lay.corner(False), lay.corner(True)
        if drill.belt_measured is None:
            line = self._column(screen, left.x, lay.pad, say.label("belt_unknown"), lay.read, MUTED)
        else:
            line = self._column(screen, left.x, lay.pad, say.label("belt_now"), lay.read, MUTED)
            loud = lay.loud
            if lay.upright:  # in one line, for the sake of what stands below it
                room = lay.wing - 2 * lay.pad
                loud = self._text.fit(drill.belt_measured, loud, room, lay.read)
            line = self._column(screen, left.x, line, drill.belt_measured, loud, WHITE)
            told, colour = say.sentence("belt_by_itself", speed=drill.belt_speed or ""), MUTED
            if drill.belt_unchanged:
                values = {"seen": drill.belt_measured, "asked": drill.belt_speed or ""}
                told, colour = say.sentence("belt_still", **values), CHANGE
            if says_below:
                below.append(told)
            else:
                line = self._column(screen, left.x, line + lay.gap, told, lay.read, colour)
        centre = (right.x + lay.pad + lay.px(30), lay.pad + lay.px(36))
        shapes.ring(screen, centre, lay.px(30), CHANGE, lay.px(5))
        shapes.bars(screen, centre, lay.px(20), CHANGE)
        at = (right.right - lay.pad, lay.pad + lay.px(36) + lay.read // 2)
        self._text.draw(screen, place(drill), at, lay.read, MUTED, "right")
        free = lay.pad + lay.px(84)
        free = self._column(screen, right.x, free, drill.name, lay.read, MUTED)
        if says_below:
            below.append(confirm)
        else:
            free = self._column(screen, right.x, free + lay.gap, confirm, lay.read, WHITE)
        self._cards.belt_floor(screen, scene, drill, below)
        return line, free

    def _column(self, screen: Image, x: int, top: int, said: str, cap: int, colour: Colour) -> int:
        """Paint a text into a wing, line under line; return the row below it.

        An upright wing ends at the stage: what is too long for it is written smaller, down to the
        size of notes. That is so only beside the coach's things, and the coach stands near.
        """
        lay, text = self._layout, self._text
        room, at = lay.wing - 2 * lay.pad, (x + lay.pad, top)
        while lay.upright and cap > lay.note and text.below(said, top, cap, room) > lay.stage.y:
            cap -= 1
        return text.column(screen, said, at, cap, room, colour, smallest=min(cap, lay.read))
