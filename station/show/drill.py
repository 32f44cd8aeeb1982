"""The drill: which one it is, how long still, and how fast the belt runs."""

from __future__ import annotations

import math
from collections.abc import Hashable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from station.coach.scene import DrillStatus
from station.show.kept import KeptPanel
from station.show.layout import Box, Layout
from station.show.palette import MUTED
from station.show.text import TextBook
from station.show.wording import Wording

Image = NDArray[np.uint8]


def clock_text(seconds: float) -> str:
    """Return seconds as minutes and seconds, rounded up so that 0:00 means over."""
    whole = max(0, math.ceil(seconds - 1e-6))
    return f"{whole // 60}:{whole % 60:02d}"


def place(drill: DrillStatus) -> str:
    """Return which drill of how many it is."""
    return f"{drill.number}/{drill.count}"


def _clock(drill: DrillStatus) -> str | None:
    return None if drill.seconds_left is None else clock_text(drill.seconds_left)


class DrillPanel:
    """Paints the top of the right wing. Used by one thread."""

    def __init__(self, layout: Layout, text: TextBook, words: Wording) -> None:
        """Keep the tools."""
        self._layout = layout
        self._text = text
        self._words = words
        self._box = layout.corner(right=True)
        self._kept = KeptPanel()

    @property
    def below_clock(self) -> Box:
        """What the panel has below its big number."""
        box, lay = self._box, self._layout
        top = box.y + lay.px(26 + 14) + lay.big
        return Box(box.x, top, box.w, box.bottom - lay.gap - top)

    @staticmethod
    def key(drill: DrillStatus) -> Hashable:
        """Return what a drill shows anywhere on the screen: all of it, its time as a clock."""
        return _clock(drill), replace(drill, seconds_left=None)

    def paint(self, screen: Image, drill: DrillStatus) -> int:
        """Paint the panel into the screen; return the first row below it."""
        key = (drill.name, place(drill), drill.belt_speed, _clock(drill), drill.steps_left,
               drill.belt_changes)  # fmt: skip

        def content(image: Image, own: Box) -> None:
            self._content(image, own, drill)

        self._kept.lay(screen, self._box, key, content)
        return self._box.bottom

    def _content(self, screen: Image, box: Box, drill: DrillStatus) -> None:
        lay = self._layout
        left, room = box.x + lay.pad, box.w - 2 * lay.pad
        line = box.y + lay.px(26) + lay.big
        right = box.right - lay.pad
        right -= self._text.draw(screen, place(drill), (right, line), lay.read, MUTED, "right")
        if drill.seconds_left is not None:
            self._text.draw(screen, clock_text(drill.seconds_left), (left, line), lay.big)
        elif drill.steps_left is not None:
            self._text.draw(screen, str(drill.steps_left), (left, line), lay.big)
        for told in self._lines(drill, room):
            line += lay.px(19) + lay.read
            self._text.draw(screen, told, (left, line), lay.read, MUTED)
        foot = box.y + lay.px(26 + 3 * 19) + lay.big + 3 * lay.read
        if not drill.belt_changes:  # a bright block asks for it
            self._belt(screen, left, foot, room, drill)

    def _lines(self, drill: DrillStatus, room: int) -> tuple[str, ...]:
        """Return up to two lines under the big number: what it counts, and the drill's name."""
        text, cap = self._text, self._layout.read
        counts = drill.seconds_left is None and drill.steps_left is not None
        first = (self._words.label("steps_left"),) if counts else ()
        lines = text.wrap(drill.name, cap, room)
        most = 2 - len(first)
        if len(lines) > most:
            lines = (*lines[: most - 1], " ".join(lines[most - 1 :]))
        return (*first, *(text.shorten(line, cap, room) for line in lines))

    def _belt(self, screen: Image, left: int, base: int, room: int, drill: DrillStatus) -> None:
        """Paint the belt's speed, its word before it where there is room for both."""
        lay, text = self._layout, self._text
        speed = drill.belt_speed or self._words.label("belt_stands")
        label = f"{self._words.label('belt_at')} "
        beside = text.width(label, lay.read) + lay.px(8)
        if drill.belt_speed is None or text.width(speed, lay.read) + beside > room:
            beside = 0  # 10:00 min/mile says by itself what it is
        else:
            text.draw(screen, label, (left, base), lay.read, MUTED)
        cap = text.fit(speed, lay.say, room - beside, lay.read)
        text.draw(screen, speed, (left + beside, base), cap)
