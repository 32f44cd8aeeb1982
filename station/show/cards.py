"""The states without guided running: countdown, rest, paused, done, trouble, too much.

The runner stays on the stage, whole: the left wing shows the state's sign and word, the right one
the drill, and the floor says what to do. Only the warning to a runner who drifts off the belt takes
the screen: striped bars above and below, and the words as large as they can be.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from station.coach.scene import DrillStatus, Scene
from station.show import shapes
from station.show.drill import DrillPanel
from station.show.kept import KeptPanel
from station.show.layout import Box, Layout
from station.show.palette import BEAT, BLACK, CHANGE, GREEN, MUTED, VERMILLION, WITHIN, Colour
from station.show.panel import back, fill, hazard
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
GUARD = ("come_forward", "stop_belt")
"""Warnings that take the screen."""
_WITH_DRILL = ("countdown", "rest", "paused", "overload")
_BESIDE = 4.0  # a block wider than so many times its height has its parts beside each other
_SIGN_Y, _SIGN = 108, 58  # design pixels: from the wing's top to the sign's middle; its half
_UPRIGHT_Y, _UPRIGHT = 78, 44


def crowded(scene: Scene) -> bool:
    """Return whether the coach's things are shown, which upright stand on the floor."""
    return scene.coach is not None or scene.answer is not None or bool(scene.notices)


class Cards:
    """Paints the states' screens. Used by one thread."""

    def __init__(
        self, layout: Layout, text: TextBook, words: Wording, saying: Saying, drill: DrillPanel
    ) -> None:
        """Keep the tools."""
        self._layout = layout
        self._text = text
        self._words = words
        self._saying = saying
        self._drill = drill
        self._block = KeptPanel()

    def paint(self, screen: Image, scene: Scene, state: str) -> tuple[int, int]:
        """Paint a state: its sign and word, the drill, and what to do.

        Args:
            screen: Changed in place.
            scene: What is to be said.
            state: The scene's own, or `overload`: a drill that is too much now.

        Returns:
            The first free rows of the left and the right wing, pixels.
        """
        if scene.sentence is not None and scene.sentence.key in GUARD:
            return self._guard(screen, scene)
        drill, sentence = scene.drill, scene.sentence
        changes = drill is not None and drill.belt_changes and state in ("countdown", "rest")
        beside: tuple[str, ...] = ()
        below: tuple[str, ...] = ()
        if changes and sentence is not None:  # the belt's change has the floor
            said = (self._saying.sentence_text(sentence),)
            beside, below = ((), said) if self.says_below(scene) else (said, ())
        left = self._wing(screen, scene, state, beside)
        right = self._layout.gap
        if drill is not None and state in _WITH_DRILL:
            if state == "countdown":  # its ring counts
                drill = replace(drill, seconds_left=None, steps_left=None)
            right = self._drill.paint(screen, drill)
        if changes and drill is not None:
            self.belt_floor(screen, scene, drill, below)
        elif sentence is not None:
            self._floor(screen, scene, STATE_COLOUR[state])
        return left, right

    def count(self, screen: Image, scene: Scene) -> None:
        """Paint the countdown's ring alone anew, into a screen that its card was painted into."""
        (x, y), half = self._sign_place()
        reach = round(1.25 * half) + self._layout.px(6) + 2
        back(screen, Box(x - reach, y - reach, 2 * reach + 1, 2 * reach + 1))
        self._sign(screen, scene, scene.state, (x, y), half)

    def says_below(self, scene: Scene) -> bool:
        """Return whether the belt's floor has room for texts, which upright the wings lack."""
        return self._layout.upright and not crowded(scene)

    def belt_floor(
        self, screen: Image, scene: Scene, drill: DrillStatus, below: Sequence[str] = ()
    ) -> None:
        """Paint the floor as the bright block that asks for another belt speed.

        Args:
            screen: Changed in place.
            scene: Whether the coach's things have a part of the floor.
            drill: What is asked.
            below: Texts below it; none unless it `says_below`.
        """
        self.belt_block(screen, self._layout.floor(crowded(scene)), drill, below)

    def belt_block(
        self, screen: Image, box: Box, drill: DrillStatus, below: Sequence[str] = ()
    ) -> None:
        """Paint the bright block into any box, its two parts beside or above each other."""
        key = (drill.belt_speed, drill.belt_rises, tuple(below))

        def content(image: Image, own: Box) -> None:
            self._belt_block(image, own, drill, below)

        self._block.lay(screen, box, key, content)

    def _belt_block(
        self, screen: Image, box: Box, drill: DrillStatus, below: Sequence[str]
    ) -> None:
        lay, text = self._layout, self._text
        wide_box = box.w > _BESIDE * box.h and not lay.upright  # both in a line are too long there
        stripe = lay.px(13 if wide_box or lay.upright else 9)
        hazard(screen, box, CHANGE, stripe)
        inner = Box(box.x, box.y + stripe, box.w, box.h - 2 * stripe)
        fill(screen, inner, CHANGE)
        word = self._words.label("set_belt")
        speed = drill.belt_speed or self._words.label("belt_stands")
        pad = lay.px(28)
        if wide_box:
            small = text.fit(word, lay.loud, round(box.w * 0.44), lay.read)
            wide = text.draw(screen, word, (pad, inner.middle[1] + small // 2), small, BLACK)
            left = box.x + 2 * pad + wide
            area = Box(left, inner.y, box.right - left, inner.h)
            self._speed(screen, area, speed, drill.belt_rises, round(inner.h * 0.66))
            return
        room = box.w - pad
        cap = max(lay.read, text.fit(word, lay.loud, room))
        line, leading = inner.y + min(lay.px(40), round(inner.h * 0.07)), round(1.35 * cap)
        for part in text.wrap(word, cap, room):
            text.draw(screen, part, (box.middle[0], line + cap), cap, BLACK, "centre")
            line += leading
        low, base = inner.bottom, inner.bottom - lay.px(16)
        for said in reversed(below):
            for part in reversed(text.wrap(said, lay.read, box.w - 2 * pad)):
                text.draw(screen, part, (box.middle[0], base), lay.read, BLACK, "centre")
                low = base - lay.read
                base -= round(1.5 * lay.read)
            base -= lay.gap
        area = Box(box.x, line, box.w, low - line)
        # A letter's tail reaches a fifth of its height below the line, either side of the middle.
        most = max(lay.read, min(lay.cap(110), area.h - lay.px(16), round(area.h / 1.4)))
        self._speed(screen, area, speed, drill.belt_rises, most)

    def _speed(self, screen: Image, box: Box, speed: str, rises: bool | None, cap: int) -> None:
        """Paint a speed as large as there is room, between arrows up or down."""
        least, edge = self._layout.read, self._layout.px(20)
        if self._text.width(speed, least) > box.w - 2 * edge - round(2.5 * least):
            rises = None  # no room for both: the speed itself says more
        arrow = 0 if rises is None else round(cap * 0.62)
        cap = self._text.fit(speed, cap, box.w - 2 * edge - 4 * arrow, least)
        arrow = min(arrow, round(cap * 0.9))
        wide = self._text.width(speed, cap)
        x, y = box.middle
        self._text.draw(screen, speed, (x, y + cap // 2), cap, BLACK, "centre")
        if rises is not None:
            for side in (-1, 1):
                at = (x + side * (wide // 2 + round(arrow * 1.3)), y)
                shapes.arrow(screen, at, arrow * 0.8, rises, BLACK)

    # --- within ---------------------------------------------------------------------------------

    def _wing(self, screen: Image, scene: Scene, state: str, beside: Sequence[str]) -> int:
        """Paint sign, word and texts into the left wing; return the first free row."""
        lay, text = self._layout, self._text
        box = lay.corner(right=False)
        centre, half = self._sign_place()
        self._sign(screen, scene, state, centre, half)
        word = self._words.label(scene.heading or state)
        colour = STATE_COLOUR[state] if state != "trouble" else BEAT
        row = centre[1] + round(1.5 * half)
        room, x = box.w - 2 * lay.pad, box.middle[0]
        row = text.column(screen, word, (x, row), lay.read, room, colour, "centre")
        for said in beside:
            row = text.column(screen, said, (x, row), lay.read, room, align="centre")
        return row

    def _sign_place(self) -> tuple[tuple[int, int], int]:
        """Return a sign's middle on the screen, and its half."""
        lay, box = self._layout, self._layout.corner(right=False)
        down, size = (_UPRIGHT_Y, _UPRIGHT) if lay.upright else (_SIGN_Y, _SIGN)
        return (box.middle[0], box.y + lay.px(down)), lay.px(size)

    def _floor(self, screen: Image, scene: Scene, colour: Colour) -> None:
        """Paint what to do, under a bar of the state's colour."""
        lay, box = self._layout, self._layout.floor(crowded(scene))
        sentence = scene.sentence
        if sentence is None:
            return
        fill(screen, Box(box.x, box.y, box.w, lay.px(6)), colour)
        room = box.w - 4 * lay.margin
        rows = 4 if lay.upright else 2
        lines, cap = self._saying.lines(sentence, lay.cap(50), room, rows)
        while len(lines) * round(1.5 * cap) - cap // 2 > box.h - lay.px(24) and cap > lay.read:
            cap -= 1
            lines = self._text.wrap(self._saying.sentence_text(sentence), cap, room)
        leading = round(1.5 * cap)
        base = box.y + lay.px(3) + (box.h - leading * (len(lines) - 1) - cap) // 2 + cap
        for number, line in enumerate(lines):
            at = (box.middle[0], base + number * leading)
            self._text.draw(screen, line, at, cap, align="centre")

    def _guard(self, screen: Image, scene: Scene) -> tuple[int, int]:
        """Let a warning take the screen; of the runner only the legs stay to be seen."""
        lay, text = self._layout, self._text
        sentence = scene.sentence
        if sentence is None:
            return lay.gap, lay.gap
        top = Box(0, 0, lay.width, round(lay.height * 0.46))
        stripe = lay.px(40)
        back(screen, top)
        hazard(screen, Box(0, 0, lay.width, stripe), CHANGE, stripe)
        hazard(screen, Box(0, top.bottom - stripe, lay.width, stripe), CHANGE, stripe)
        floor = lay.floor(crowded(scene))
        hazard(screen, floor, CHANGE, stripe)
        room = lay.width - 4 * lay.margin
        high = top.h - 2 * stripe - 2 * lay.px(20)
        said = self._saying.sentence_text(sentence)
        cap = lay.cap(96)
        while cap > lay.read:
            lines = text.wrap(said, cap, room)
            tall = round(1.45 * cap) * (len(lines) - 1) + cap
            if tall <= high and all(text.width(line, cap) <= room for line in lines):
                break
            cap -= 1
        lines = text.wrap(said, cap, room)
        leading = round(1.45 * cap)
        base = top.middle[1] - (leading * (len(lines) - 1) + cap) // 2 + cap
        for number, line in enumerate(lines):
            at = (lay.width // 2, base + number * leading)
            text.draw(screen, line, at, cap, CHANGE, "centre")
        size = floor.h * 0.36
        plate = Box(lay.width // 2 - floor.h, floor.y, 2 * floor.h, floor.h)
        back(screen, plate)
        shapes.warning(screen, (floor.middle[0], floor.middle[1]), size, VERMILLION)
        return top.bottom + lay.gap, top.bottom + lay.gap

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
