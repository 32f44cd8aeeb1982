"""Paints the pages of an unattended visit: what is asked, and the places to touch."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from station.coach.visit.page import Page
from station.show import shapes
from station.show.layout import Box, Layout
from station.show.palette import BEAT, NIGHT, WHITE, Colour
from station.show.panel import fill, frame, gauge
from station.show.saying import TONE_COLOUR, tone_sign
from station.show.text import TextBook
from station.show.touch_place import TouchPlaces
from station.show.wording import Wording

Image = NDArray[np.uint8]
_BEHIND = 0.35
"""Brightness of the picture behind a page that shows one."""
_FIELD: Colour = (52, 44, 33)
"""The ground of a place to touch."""
_LEAVING = ("leave",)
_AFTER = ("erase", "enter")
"""What is done with what was typed stands at the foot, too: its words need more room than a key."""
_FOOT = (*_LEAVING, *_AFTER)
_GAP = 10
LEAST_CHOICE = 58
"""Least height of a place to touch, design pixels."""
FOOT = 68
"""Height of the place that leaves the page."""


class VisitPainter:
    """Paints pages into one buffer that it owns. Used by one thread."""

    def __init__(self, width: int, height: int, words: Wording, text_scale: float = 1.0) -> None:
        """Make the buffer and open the font.

        Args:
            width: Screen width in pixels.
            height: Screen height in pixels.
            words: Gives the texts.
            text_scale: Enlargement of the text, from `legibility.text_scale`; whoever answers
                stands at the screen, so it is taken for the texts only where there is room.
        """
        self._screen = np.zeros((height, width, 3), np.uint8)
        self._lay = Layout(width, height, text_scale)
        self._text = TextBook()
        self._words = words
        self._places = TouchPlaces(
            self._screen, self._lay, words, self._text, self._lay.read, _FIELD
        )
        self._painted: tuple[Page, bool] | None = None

    def paint(self, page: Page, picture: Image | None = None) -> Image:
        """Paint one page.

        Args:
            page: What is to be shown.
            picture: (h, w, 3) BGR, the camera's picture, shown dimmed and mirrored behind the
                page; None: plain ground.

        Returns:
            (height, width, 3) uint8 BGR: the painter's own buffer, valid until the next call.
        """
        if self._painted == (page, False) and picture is None:
            return self._screen
        self._painted = (page, picture is not None)
        self._ground(picture)
        self._places.clear()
        top = self._head(page)
        top = self._lines(page, top, picture is not None)
        if page.entry is not None:
            top = self._entry(page.entry, top)
        if page.share is not None:
            px = self._lay.px
            bar = Box(2 * self._lay.margin, top + px(10), px(760), px(56))
            gauge(self._screen, bar, page.share, WHITE, px(4))
        self._choices(page, top)
        return self._screen

    def choice_at(self, x: float, y: float) -> str | None:
        """Return the id of the choice painted at a point of the screen, pixels; None: none."""
        return self._places.at(x, y)

    @property
    def places(self) -> tuple[tuple[str, Box], ...]:
        """Where each choice of the page last painted is."""
        return self._places.all

    # --- within ---------------------------------------------------------------------------------

    def _ground(self, picture: Image | None) -> None:
        fill(self._screen, Box(0, 0, self._lay.width, self._lay.height), NIGHT)
        if picture is None:
            return
        scale = min(self._lay.width / picture.shape[1], self._lay.height / picture.shape[0])
        wide, high = round(picture.shape[1] * scale), round(picture.shape[0] * scale)
        fitted = cv2.resize(cv2.flip(picture, 1), (wide, high), interpolation=cv2.INTER_LINEAR)
        x, y = (self._lay.width - wide) // 2, (self._lay.height - high) // 2
        part = self._screen[y : y + high, x : x + wide]
        cv2.convertScaleAbs(fitted, dst=part, alpha=_BEHIND)

    def _head(self, page: Page) -> int:
        lay = self._lay
        left, cap = 2 * lay.margin, lay.loud
        colour = TONE_COLOUR[page.tone]
        high = cap + 2 * lay.px(26)
        fill(self._screen, Box(0, 0, lay.width, high), _FIELD)
        fill(self._screen, Box(0, high - lay.px(6), lay.width, lay.px(6)), colour)
        if page.tone != "calm":
            sign = lay.px(24)
            tone_sign(self._screen, (left + sign * 1.4, high / 2), sign, page.tone, -1.0)
            left += round(3.6 * sign)
        right = lay.width - 2 * lay.margin
        if page.seconds_left is not None:
            told = self._say("ends_in", seconds=str(page.seconds_left))
            right -= self._text.draw(
                self._screen, told, (right, high - lay.px(26)), lay.read, BEAT, "right"
            ) + lay.px(20)
        title = self._say(page.title, **dict(page.values))
        fitted = self._text.fit(title, cap, right - left)
        self._text.draw(self._screen, title, (left, high - lay.px(26)), fitted)
        return high + lay.px(20)

    def _lines(self, page: Page, top: int, over_picture: bool) -> int:
        """Paint the lines as large as leaves room for the choices; return the row below them."""
        lay = self._lay
        texts = [self._say(key, **dict(page.values)) for key in page.lines]
        listed = len(texts) > 2
        indent = lay.px(34) if listed else 0
        room = lay.width - 4 * lay.margin - indent
        most = lay.height - top - self._least_below(page)
        cap = lay.read if listed else lay.say
        while True:
            blocks = [self._text.wrap(text, cap, room) for text in texts]
            gap = round(cap * 0.35)
            high = sum(round(cap * 1.65) * len(block) + gap for block in blocks)
            if high <= most or cap <= lay.note:
                break
            cap -= 1
        halo = lay.px(4) if over_picture else 0
        for block in blocks:
            for number, line in enumerate(block):
                base = top + round(cap * 1.3)
                if listed and number == 0:
                    centre = (2 * lay.margin + lay.px(8), base - cap / 2)
                    shapes.disc(self._screen, centre, lay.px(6), BEAT, 0)
                at = (2 * lay.margin + indent, base)
                self._text.draw(self._screen, line, at, cap, WHITE, halo=halo)
                top += round(cap * 1.65)
            top += gap
        return top

    def _least_below(self, page: Page) -> int:
        """Return how many pixels the entry and the choices need at the least."""
        lay = self._lay
        asked = sum(c.id not in _FOOT for c in page.choices)
        rows = -(-asked // max(1, page.columns))
        high = rows * (lay.px(LEAST_CHOICE) + lay.px(_GAP)) + 2 * lay.margin
        if asked < len(page.choices):
            high += lay.px(FOOT) + 2 * lay.px(_GAP)
        return high + (lay.loud + lay.px(60) if page.entry is not None else 0)

    def _entry(self, entry: str, top: int) -> int:
        lay, cap = self._lay, self._lay.loud
        box = Box(2 * lay.margin, top + lay.px(6), lay.px(760), cap + 2 * lay.px(18))
        frame(self._screen, box, WHITE, 3)
        base = box.bottom - lay.px(18)
        fitted = self._text.fit(entry or " ", cap, box.w - 2 * lay.px(24))
        wide = self._text.draw(self._screen, entry, (box.x + lay.px(18), base), fitted)
        mark = Box(box.x + lay.px(24) + wide, base - cap, lay.px(5), cap)
        fill(self._screen, mark, BEAT)
        return box.bottom + lay.px(14)

    def _choices(self, page: Page, top: int) -> None:
        """Lay the choices out in rows below `top`; leaving, and ending an entry, at the foot."""
        lay, gap = self._lay, self._lay.px(_GAP)
        foot_high = lay.px(FOOT)
        leaving = [c for c in page.choices if c.id in _FOOT]
        asked = [c for c in page.choices if c.id not in _FOOT]
        bottom = lay.height - 2 * lay.margin - (foot_high + 2 * gap if leaving and asked else 0)
        columns = max(1, min(page.columns, len(asked))) if asked else 1
        rows = -(-len(asked) // columns) if asked else 0
        if rows:
            room = lay.width - 4 * lay.margin
            wide = (room - gap * (columns - 1)) // columns
            if columns == 1:
                wide = min(wide, lay.px(900))
            high = max(lay.px(40), min(lay.px(96), (bottom - top - gap * (rows - 1)) // rows))
            if len(asked) == 1:
                wide = min(wide, lay.px(480))
            for number, choice in enumerate(asked):
                row, column = divmod(number, columns)
                x = 2 * lay.margin + column * (wide + gap)
                self._places.paint(choice, Box(x, top + row * (high + gap), wide, high))
        wide, left = min(lay.px(330), (lay.width - 4 * lay.margin - 2 * gap) // 3), 2 * lay.margin
        y = lay.height - 2 * lay.margin - foot_high
        for choice in leaving:
            x = left
            if choice.id in _LEAVING:
                x = lay.width - 2 * lay.margin - wide
            else:
                left += wide + gap
            self._places.paint(choice, Box(x, y, wide, foot_high))

    def _say(self, key: str, **values: str) -> str:
        return self._words.sentence(key, **values)
