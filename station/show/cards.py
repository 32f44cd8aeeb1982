"""The states without guided running: countdown, rest, paused, done, trouble.

The card keeps to the upper half, so that whoever stands in the bay still sees where they stand.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from station.coach.scene import Scene
from station.show import shapes
from station.show.drill import DrillPanel, clock_text, place
from station.show.layout import Box, Layout
from station.show.palette import BEAT, GREEN, MUTED, VERMILLION, WITHIN, Colour
from station.show.panel import back, edge
from station.show.saying import Saying
from station.show.text import TextBook
from station.show.wording import Wording

Image = NDArray[np.uint8]

STATE_COLOUR: dict[str, Colour] = {
    "countdown": BEAT, "rest": WITHIN, "felt": BEAT, "paused": MUTED, "done": GREEN,
    "trouble": VERMILLION, "overload": BEAT,
}  # fmt: skip
COUNTDOWN_S = 5.0
"""The countdown's ring is full at so many seconds before the start."""


class Cards:
    """Paints one large card. Used by one thread."""

    def __init__(
        self, layout: Layout, text: TextBook, words: Wording, saying: Saying, drill: DrillPanel
    ) -> None:
        """Keep the tools."""
        self._layout = layout
        self._text = text
        self._words = words
        self._saying = saying
        self._drill = drill

    def paint(self, screen: Image, scene: Scene, state: str) -> int:
        """Paint the card of a state: its sign, its word, one sentence, what is next.

        Args:
            screen: Changed in place.
            scene: What is to be said.
            state: The scene's own, or `overload`: a drill that is too much now.

        Returns:
            The first row below the card, pixels.
        """
        lay = self._layout
        counting = state in ("countdown", "rest", "overload")
        left = lay.px(208)
        room = lay.card().w - left - lay.px(32 if state != "rest" else 222)
        lines: tuple[str, ...] = ()
        cap = lay.loud if counting else lay.cap(54)
        if scene.sentence is not None:
            lines, cap = self._saying.lines(scene.sentence, cap, room, 2 if counting else 3)
        leading = round(cap * 1.5)
        head, top = lay.px(30) + lay.read, lay.px(66) + lay.read
        high = max(lay.px(208), top + cap + leading * (len(lines) - 1) + lay.px(40))
        band = 0
        if counting and scene.drill is not None:
            band = lay.px(108 if scene.drill.belt_changes else 78)
        box = lay.card(high + band)
        colour = STATE_COLOUR[state]
        back(screen, box, lay.px(36))
        edge(screen, Box(box.x, box.y + lay.px(36), box.w, box.h - lay.px(36)), colour, lay.px(8))
        sign = lay.px(56)
        centre = (box.x + lay.px(104), box.y + lay.px(104))
        left += box.x
        self._sign(screen, scene, state, centre, sign)
        self._heading(screen, scene, state, left, box.y + head, box.right - lay.px(32))
        for number, line in enumerate(lines):
            self._text.draw(screen, line, (left, box.y + top + cap + number * leading), cap)
        if band and scene.drill is not None:
            inset = lay.px(8)
            foot = Box(box.x + inset, box.bottom - band, box.w - inset, band)
            self._drill.belt(screen, foot, scene.drill)
        return box.bottom

    def _heading(
        self, screen: Image, scene: Scene, state: str, left: int, line: int, right: int
    ) -> None:
        """Paint the state's word, and at the right the drill or the time left."""
        lay = self._layout
        word = self._words.label(scene.heading or state)
        colour = STATE_COLOUR[state] if state != "trouble" else BEAT
        wide = self._text.draw(screen, word, (left, line), lay.read, colour)
        drill = scene.drill
        if drill is None:
            return
        if state == "rest" and drill.seconds_left is not None:
            at = (right, line - lay.read + lay.big)
            self._text.draw(screen, clock_text(drill.seconds_left), at, lay.big, align="right")
            return
        if state in ("countdown", "paused"):
            room = right - left - wide - lay.px(30)
            name = self._text.shorten(f"{place(drill)}  {drill.name}", lay.read, room)
            self._text.draw(screen, name, (right, line), lay.read, align="right")

    def _sign(
        self, screen: Image, scene: Scene, state: str, centre: tuple[int, int], size: int
    ) -> None:
        colour = STATE_COLOUR[state]
        if state == "paused":
            shapes.bars(screen, centre, size, colour)
        elif state == "rest":
            shapes.hourglass(screen, centre, size, colour)
        elif state == "done":
            shapes.tick(screen, centre, size, colour)
        elif state == "overload":
            shapes.arrow(screen, centre, size, False, colour)
        elif state == "trouble":
            shapes.warning(screen, centre, size * 1.1, colour)
        else:
            self._countdown(screen, scene, centre, size)

    def _countdown(self, screen: Image, scene: Scene, centre: tuple[int, int], size: int) -> None:
        """Paint the seconds to the start, in a ring that empties."""
        lay = self._layout
        left_s = scene.drill.seconds_left if scene.drill else None
        if left_s is None:
            shapes.ring(screen, centre, size, BEAT, lay.px(8))
            return
        shapes.ring(screen, centre, size * 1.25, MUTED, lay.px(2))
        shapes.arc(screen, centre, size * 1.25, left_s / COUNTDOWN_S, BEAT, lay.px(12))
        number = str(max(0, math.ceil(left_s - 1e-6)))
        cap = self._text.fit(number, lay.big, round(size * 1.7))
        self._text.draw(screen, number, (centre[0], centre[1] + cap // 2), cap, align="centre")
