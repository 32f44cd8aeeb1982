"""The drill panel: which drill, how long still, and what the belt is to be set to."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from station.coach.scene import DrillStatus
from station.show.kept import KeptPanel
from station.show.layout import Box, Layout
from station.show.palette import BLACK, CHANGE, MUTED
from station.show.panel import fill, hazard
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


class DrillPanel:
    """Paints the upper right panel. Used by one thread."""

    def __init__(self, layout: Layout, text: TextBook, words: Wording) -> None:
        """Keep the tools."""
        self._layout = layout
        self._text = text
        self._words = words
        self._box = layout.corner(right=True)
        self._kept = KeptPanel()

    def paint(self, screen: Image, drill: DrillStatus) -> int:
        """Paint the panel into the screen; return the first row below it."""
        lay, box = self._layout, self._box
        # A change of speed is worth more room than the panel has.
        more = lay.px(44) if drill.belt_changes else 0
        whole = Box(box.x, box.y, box.w, box.h + more)
        clock = None if drill.seconds_left is None else clock_text(drill.seconds_left)
        key = (drill.name, place(drill), drill.belt_speed, clock, drill.steps_left, more)

        def content(image: Image, own: Box) -> None:
            self._content(image, own, drill)

        self._kept.lay(screen, whole, key, content, lay.px(20) if not more else 0)
        return whole.bottom

    def _content(self, screen: Image, box: Box, drill: DrillStatus) -> None:
        lay = self._layout
        left, room = box.x + lay.pad, box.w - 2 * lay.pad
        line = box.y + lay.pad + lay.read
        cap = self._text.fit(drill.name, lay.read, room, smallest=round(lay.read * 0.7))
        self._text.draw(screen, self._text.shorten(drill.name, cap, room), (left, line), cap)
        line += lay.pad + lay.big
        if drill.seconds_left is not None:
            self._text.draw(screen, clock_text(drill.seconds_left), (left, line), lay.big)
        elif drill.steps_left is not None:
            wide = self._text.draw(screen, str(drill.steps_left), (left, line), lay.big)
            pen = left + wide + lay.px(14)
            self._unit(
                screen, self._words.label("steps_left"), pen, line, box.right - lay.pad - pen
            )
        if drill.steps_left is None or drill.seconds_left is not None:
            at = (box.right - lay.pad, line)
            self._text.draw(screen, place(drill), at, lay.read, MUTED, "right")
        line += lay.px(16)
        self.belt(screen, Box(box.x, line, box.w, box.bottom - line), drill)

    def _unit(self, screen: Image, unit: str, left: int, line: int, room: int) -> None:
        """Paint a unit beside a big number, on two lines where one is too small to read."""
        cap = self._layout.read
        lines = self._text.wrap(unit, cap, room)[:2]
        for number, text in enumerate(lines):
            base = line - (len(lines) - 1 - number) * round(1.4 * cap)
            self._text.draw(screen, text, (left, base), self._text.fit(text, cap, room), MUTED)

    def belt(self, screen: Image, box: Box, drill: DrillStatus) -> None:
        """Paint the belt's speed; as a bright block between stripes where it is to be changed.

        Args:
            screen: Changed in place.
            box: Where; its size sets the text's.
            drill: Its `belt_speed` None: says that the belt stands.
        """
        lay = self._layout
        left, room = box.x + lay.pad, box.w - 2 * lay.pad
        speed = drill.belt_speed or self._words.label("belt_stands")
        if not drill.belt_changes:
            label = self._words.label("belt")
            if self._text.width(f"{label}  {speed}", lay.read) > room:  # two lines: 10:00 min/mile
                small = min(round(lay.read * 0.7), round(box.h * 0.25))
                line = box.y + small
                self._text.draw(screen, label, (left, line), small, MUTED)
                cap = self._text.fit(speed, lay.loud, room)
                self._text.draw(screen, speed, (left, box.bottom - lay.pad), cap)
                return
            wide = self._text.draw(screen, label, (left, box.bottom - lay.pad), lay.read, MUTED)
            pen = left + wide + lay.px(16)
            cap = self._text.fit(speed, min(lay.loud, box.h - lay.pad), left + room - pen)
            self._text.draw(screen, speed, (pen, box.bottom - lay.pad), cap)
            return
        stripe = lay.px(12)
        hazard(screen, box, CHANGE, stripe)
        fill(screen, Box(box.x, box.y + stripe, box.w, box.h - 2 * stripe), CHANGE)
        label = self._words.label("set_belt")
        inner = box.h - 2 * stripe
        if box.w > 7 * inner:  # a wide band: one line
            both = f"{label}  {speed}"
            cap = self._text.fit(both, round(inner * 0.6), room)
            at = (box.x + box.w // 2, box.y + (box.h + cap) // 2)
            self._text.draw(screen, both, at, cap, BLACK, "centre")
            return
        small, gap = round(inner * 0.31), round(inner * 0.11)
        tall = inner - small - 3 * gap
        line = box.y + stripe + gap + small
        cap = self._text.fit(label, small, room)
        self._text.draw(screen, label, (box.x + box.w // 2, line), cap, BLACK, "centre")
        cap = self._text.fit(speed, tall, room)
        line = box.bottom - stripe - gap - (tall - cap) // 2
        self._text.draw(screen, speed, (box.x + box.w // 2, line), cap, BLACK, "centre")
