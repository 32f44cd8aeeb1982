"""Paints the pages of a bay's set-up: what to do, the live picture, what was measured."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from station.coach.choice import Choice
from station.coach.setup.page import Body, Entry, Grade, Reading, SetupPage
from station.show import shapes
from station.show.layout import Box, Layout
from station.show.palette import (
    AHEAD,
    BEAT,
    GREEN,
    INK,
    MUTED,
    VERMILLION,
    WHITE,
    Colour,
)
from station.show.panel import fill, frame, gauge
from station.show.setup_picture import PictureFrame
from station.show.text import TextBook
from station.show.touch_place import TouchPlaces
from station.show.wording import Wording

Image = NDArray[np.uint8]
GRADE_COLOUR: dict[Grade, Colour] = {
    "good": GREEN, "look": AHEAD, "bad": VERMILLION, "open": MUTED,
}  # fmt: skip
_FIELD: Colour = (52, 47, 44)
"""The ground of the head and of a place to touch."""
_CAP, _HOW_CAP, _TITLE_CAP, _SMALLEST = 18, 20, 36, 12
_MARGIN = 28
_FINE = ("level", "belt", "scale")
"""Steps in which a point of the picture is marked."""


@dataclass(frozen=True, slots=True)
class _Plan:
    """Where things are, design pixels: x, y, width, height."""

    wide: int
    picture: tuple[int, int, int, int]
    column: tuple[int, int, int, int]
    whole: tuple[int, int, int, int]
    """The column of a page without a picture."""
    below: int
    """First row of entries and offers."""
    rows: int
    """Rows that they may take."""
    foot: int
    ways: int
    """Places of the foot side by side."""


_LANDSCAPE = _Plan(1280, (28, 122, 800, 450), (852, 122, 400, 450), (28, 122, 1224, 450), 586, 1,
                   648, 4)  # fmt: skip
_UPRIGHT = _Plan(720, (28, 122, 664, 374), (28, 512, 664, 420), (28, 122, 664, 810), 944, 3,
                 1136, 2)  # fmt: skip


class SetupPainter:
    """Paints pages into one buffer that it owns. Used by one thread."""

    def __init__(self, width: int, height: int, words: Wording) -> None:
        """Make the buffer and open the font.

        Args:
            width: Screen width in pixels.
            height: Screen height in pixels.
            words: Gives the texts.
        """
        self._screen = np.zeros((height, width, 3), np.uint8)
        self._lay = Layout(width, height)
        self._text = TextBook()
        self._words = words
        self._plan = _UPRIGHT if self._lay.upright else _LANDSCAPE
        self._frame = PictureFrame(self._box(*self._plan.picture))
        self._places = TouchPlaces(
            self._screen, self._lay, words, self._text, self._lay.px(19), _FIELD
        )
        self._has_picture = False
        self.text_bottom = 0
        """First row below the text of the page last painted."""

    def paint(self, page: SetupPage, picture: Image | None = None) -> Image:
        """Paint one page.

        Args:
            page: What is to be shown.
            picture: (h, w, 3) BGR as the camera sees it; None: there is none.

        Returns:
            (height, width, 3) uint8 BGR: the painter's own buffer, valid until the next call.
        """
        fill(self._screen, Box(0, 0, self._lay.width, self._lay.height), INK)
        self._places.clear()
        self._head(page)
        body = page.body
        self._has_picture = body.picture
        if body.picture:
            fine = page.step in _FINE
            self._frame.paint(self._screen, picture, self._lay.unit, fine)
            self._frame.marks(self._screen, body.marks, self._lay.unit)
            if body.loupe is not None and picture is not None:
                self._frame.loupe(self._screen, picture, body.loupe, self._lay.unit)
            column = self._box(*self._plan.column)
        else:
            column = self._box(*self._plan.whole)
        top = self.text_bottom = self._column(body, column)
        if body.bar_px is not None:
            self._bar(body.bar_px, top + self._lay.px(26))
        self._below(body)
        self._foot(page)
        return self._screen

    def choice_at(self, x: float, y: float) -> str | None:
        """Return the id of the place painted at a point of the screen, pixels; None: none."""
        return self._places.at(x, y)

    def in_picture(self, x: float, y: float) -> tuple[float, float] | None:
        """Return the camera's pixel under a point of the screen; None: beside the picture."""
        return self._frame.in_picture(x, y) if self._has_picture else None

    @property
    def places(self) -> tuple[tuple[str, Box], ...]:
        """Where each place to touch of the page last painted is."""
        return self._places.all

    @property
    def frame(self) -> PictureFrame:
        """Where the camera's picture is."""
        return self._frame

    # --- within ---------------------------------------------------------------------------------

    def _box(self, x: float, y: float, w: float, h: float) -> Box:
        px = self._lay.px
        return Box(px(x), px(y), px(w), px(h))

    def _head(self, page: SetupPage) -> None:
        lay, screen = self._lay, self._screen
        fill(screen, Box(0, 0, lay.width, lay.px(66)), _FIELD)
        fill(screen, Box(0, lay.px(66), lay.width, lay.px(5)), GRADE_COLOUR[page.grade])
        count = self._say("setup_step_of", number=str(page.number), count=str(len(page.grades)))
        cap = lay.px(_TITLE_CAP)
        right = lay.width - lay.px(_MARGIN)
        wide = self._text.draw(screen, count, (right, lay.px(46)), lay.px(20), BEAT, "right")
        title = self._say(f"setup_{page.step}")
        fitted = self._text.fit(title, cap, right - wide - lay.px(60))
        self._text.draw(screen, title, (lay.px(_MARGIN), lay.px(50)), fitted)
        step = (lay.width - 2 * lay.px(_MARGIN)) / len(page.grades)
        for n, grade in enumerate(page.grades):
            x = lay.px(_MARGIN) + step * (n + 0.5)
            skipped = n < len(page.skipped) and page.skipped[n]
            self._sign((x, lay.px(94)), lay.px(8), "open" if skipped else grade, skipped)
            if n == page.number - 1:
                fill(screen, Box(round(x - step * 0.4), lay.px(110), round(step * 0.8), lay.px(3)),
                     BEAT)  # fmt: skip

    def _sign(
        self, at: tuple[float, float], size: float, grade: Grade, skipped: bool = False
    ) -> None:
        """Draw a grade's sign: tick, triangle, barred ring, empty ring; a dash where skipped."""
        colour = GRADE_COLOUR[grade]
        if skipped:
            ends = ((at[0] - size, at[1]), (at[0] + size, at[1]))
            shapes.line(self._screen, *ends, MUTED, max(2, round(size * 0.3)), 0)
        elif grade == "good":
            shapes.tick(self._screen, at, size, colour)
        elif grade == "look":
            shapes.warning(self._screen, at, size * 1.1, colour)
        elif grade == "bad":
            shapes.barred(self._screen, at, size, colour)
        else:
            shapes.ring(self._screen, at, size * 0.8, colour, max(2, round(size * 0.2)))

    def _column(self, body: Body, box: Box) -> int:
        """Write what to do and what was measured, as large as there is room; return the end."""
        lay = self._lay
        cap = lay.px(_CAP)
        indent = lay.px(36)
        room = box.h - (lay.px(40) if body.share is not None else 0)
        how = self._say(body.how)
        while True:
            head = self._text.wrap(how, cap + lay.px(_HOW_CAP - _CAP), box.w)
            blocks = [self._text.wrap(self._told(r), cap, box.w - indent) for r in body.readings]
            lines = len(head) * 1.1 + sum(len(b) + 0.5 for b in blocks)
            if lines * cap * 1.7 + lay.px(14) <= room or cap <= lay.px(_SMALLEST):
                break
            cap -= 1
        line_high = round(cap * 1.7)
        top = box.y
        for line in head:
            self._text.draw(self._screen, line, (box.x, top + round(cap * 1.2)),
                            cap + lay.px(_HOW_CAP - _CAP))  # fmt: skip
            top += round(line_high * 1.1)
        top += lay.px(14)
        if body.share is not None:
            bar = Box(box.x, top, min(box.w, lay.px(400)), lay.px(16))
            gauge(self._screen, bar, body.share, MUTED, lay.px(2))
            top += lay.px(34)
        for reading, block in zip(body.readings, blocks, strict=True):
            centre = (box.x + lay.px(14), top + cap * 0.75)
            self._sign(centre, lay.px(11), reading.grade)
            for line in block:
                self._text.draw(
                    self._screen, line, (box.x + indent, top + round(cap * 1.3)), cap,
                    WHITE if reading.grade != "open" else MUTED,
                )  # fmt: skip
                top += line_high
            top += line_high // 2
        return top

    def _bar(self, wide_px: float, top: int) -> None:
        """Draw the bar whose length is measured: its two outer edges are what counts."""
        lay = self._lay
        box = Box(lay.px(_MARGIN), top, round(wide_px * lay.unit), lay.px(70))
        fill(self._screen, box, WHITE)
        for x in (box.x, box.right - lay.px(4)):
            fill(self._screen, Box(x, box.y - lay.px(18), lay.px(4), box.h + 2 * lay.px(18)), BEAT)

    def _below(self, body: Body) -> None:
        """Lay entries and offers out in rows."""
        lay, gap = self._lay, self._lay.px(10)
        left, right, high = lay.px(_MARGIN), lay.width - lay.px(_MARGIN), lay.px(48)
        x, y = left, lay.px(self._plan.below)
        for entry in body.entries:
            x = self._entry(entry, x, y, high, alone=len(body.entries) == 1) + gap
        offers = body.offers
        rows = self._plan.rows
        if rows > 1 and x > left:  # upright: offers have rows of their own
            x, y, rows = left, y + high + gap, rows - 1
        if not offers:
            return
        columns = -(-len(offers) // rows)
        wide = min(lay.px(330), (right - x - gap * (columns - 1)) // columns)
        for n, offer in enumerate(offers):
            row, column = divmod(n, columns)
            box = Box(x + column * (wide + gap), y + row * (high + gap), wide, high)
            self._places.paint(offer, box)

    def _entry(self, entry: Entry, x: int, y: int, high: int, alone: bool) -> int:
        lay, screen = self._lay, self._screen
        cap = lay.px(17)
        label = self._say(entry.key)
        x += self._text.draw(screen, label, (x, y + (high + cap) // 2), cap, MUTED) + lay.px(10)
        room = lay.width - lay.px(_MARGIN) - x
        wide = min(room, lay.px(560)) if alone and not entry.unit else lay.px(110)
        box = Box(x, y, wide, high)
        self._places.add(f"entry:{entry.id}", box)
        frame(screen, box, BEAT if entry.active else MUTED, lay.px(3 if entry.active else 2))
        cap = lay.px(20)
        base = y + (high + cap) // 2
        fitted = self._text.fit(entry.text or " ", cap, wide - lay.px(30), lay.px(10))
        shown = entry.text
        while shown and self._text.width(shown, fitted) > wide - lay.px(26):
            shown = shown[1:]  # of a long path its end is what is typed
        end = x + lay.px(10) + self._text.draw(screen, shown, (x + lay.px(10), base), fitted)
        if entry.active:
            fill(screen, Box(end + lay.px(3), base - cap, lay.px(3), cap + lay.px(2)), BEAT)
        x = box.right + lay.px(8)
        if entry.unit:
            x += self._text.draw(screen, entry.unit, (x, base), lay.px(17), MUTED) + lay.px(14)
        return x

    def _foot(self, page: SetupPage) -> None:
        lay, gap = self._lay, self._lay.px(10)
        y, high = lay.px(self._plan.foot), lay.px(54)
        last = page.number == len(page.grades)
        again = page.leaving and not page.saved
        ways = [Choice("leave", "setup_leave_again" if again else "setup_leave", "Esc")]
        if page.number > 1:
            ways.append(Choice("back", "setup_back", "PgUp"))
        if not last:
            ways.append(Choice("skip", "setup_skip", "PgDn"))
        on = "setup_next" if not last else "setup_close" if page.saved else "setup_save_it"
        plan = self._plan
        wide = (lay.width - 2 * lay.px(_MARGIN) - (plan.ways - 1) * gap) // plan.ways
        for place, way in (*enumerate(ways), (3, Choice("next", on, "Enter"))):
            row, column = divmod(place, plan.ways)
            x, top = lay.px(_MARGIN) + column * (wide + gap), y + row * (high + gap)
            self._places.paint(way, Box(x, top, wide, high), strong=place == 3)

    def _told(self, reading: Reading) -> str:
        return self._say(reading.key, **dict(reading.values))

    def _say(self, key: str, **values: str) -> str:
        return self._words.sentence(key, **values)
