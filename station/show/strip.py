"""The strip below the belt: the last landings of each foot against the limit, and the verdict.

Each foot has a lane that runs in time, oldest at the left. The lane's line is the runner's limit:
a mark above it landed beyond the limit by so many degrees, one below it within.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from station.coach.scene import LandingMark, TrailMark
from station.show import shapes
from station.show.guides import verdict_colour
from station.show.kept import KeptPanel
from station.show.layout import Box, Layout
from station.show.palette import AHEAD, MUTED, WHITE, WITHIN
from station.show.text import TextBook
from station.show.wording import Wording
from station.values import Side

Image = NDArray[np.uint8]
SHOWN = 10
"""Landings shown of each foot."""
FULL_DEG = 6.0
"""Degrees over or under the limit at the lane's edge; more is drawn at the edge."""


class Strip:
    """Paints the strip. Used by one thread."""

    def __init__(self, layout: Layout, text: TextBook, words: Wording) -> None:
        """Keep the tools."""
        self._layout = layout
        self._text = text
        self._words = words
        self._kept = KeptPanel()

    def paint(
        self,
        screen: Image,
        box: Box,
        trail: Sequence[TrailMark],
        shares: Sequence[tuple[Side, float]],
        newest: LandingMark | None,
        facing: float,
    ) -> None:
        """Paint the lanes at both sides and the newest verdict between them.

        Args:
            screen: Changed in place.
            box: The strip's place.
            trail: Landings of both feet, oldest first.
            shares: Share of landings within, 0 to 1, of the feet that have one.
            newest: The landing whose verdict is to be said; None: no word.
            facing: +1 where ahead is to the right on the screen, -1 to the left.
        """
        verdict = None if newest is None else (newest.verdict,)
        key = (tuple(trail), tuple(shares), verdict, facing)

        def content(image: Image, own: Box) -> None:
            self._content(image, own, trail, shares, newest, facing)

        self._kept.lay(screen, box, key, content)

    def _content(
        self,
        screen: Image,
        box: Box,
        trail: Sequence[TrailMark],
        shares: Sequence[tuple[Side, float]],
        newest: LandingMark | None,
        facing: float,
    ) -> None:
        lay = self._layout
        word_wide = lay.px(300)
        lane_wide = (box.w - word_wide) // 2
        share = dict(shares)
        sides: tuple[Side, Side] = ("left", "right")
        for side, x in zip(sides, (box.x, box.right - lane_wide), strict=True):
            marks = [mark for mark in trail if mark.side == side][-SHOWN:]
            lane = Box(x, box.y, lane_wide, box.h)
            self._lane(screen, lane, side, marks, share.get(side), facing)
        if newest is not None:
            self._verdict(screen, Box(box.x + lane_wide, box.y, word_wide, box.h), newest, facing)

    def lane_y(self, box: Box, over_limit_deg: float) -> float:
        """Return the row of a mark that is so many degrees over the limit, pixels."""
        share = min(max(over_limit_deg / FULL_DEG, -1.0), 1.0)
        return box.y + box.h / 2.0 - share * (box.h / 2.0 - self._layout.px(13))

    def _lane(
        self,
        screen: Image,
        box: Box,
        side: Side,
        marks: Sequence[TrailMark],
        share: float | None,
        facing: float,
    ) -> None:
        lay = self._layout
        letter = self._words.label(f"{side}_foot")
        middle = box.middle[1]
        pen = (box.x + lay.px(16), middle + lay.read // 2)
        cap = self._text.fit(letter, lay.read, lay.px(90))
        self._text.draw(screen, letter, pen, cap)
        start, end = box.x + lay.px(116), box.right - lay.px(112)
        if share is not None:
            text = f"{100.0 * share:.0f} %"
            cap = self._text.fit(text, lay.read, lay.px(84))
            at = (box.right - lay.px(12), middle + cap // 2)
            self._text.draw(screen, text, at, cap, WHITE, "right")
        shapes.line(screen, (start, middle), (end, middle), MUTED, lay.px(3), 0)
        slot = (end - start) / SHOWN
        for place, mark in enumerate(marks, SHOWN - len(marks)):
            x = start + (place + 0.5) * slot
            y = self.lane_y(box, mark.over_limit_deg or 0.0)
            size = lay.px(9)
            colour = verdict_colour(mark.verdict)
            shapes.verdict_mark(screen, (x, y), size, mark.verdict, colour, (-facing, 0.0))

    def _verdict(self, screen: Image, box: Box, newest: LandingMark, facing: float) -> None:
        """Say the newest verdict: within in the middle, ahead shifted ahead, each with its sign."""
        lay = self._layout
        if newest.verdict is None:
            shapes.verdict_mark(screen, box.middle, lay.px(16), None, MUTED, (1.0, 0.0))
            return
        word = self._words.label(newest.verdict).upper()
        colour = AHEAD if newest.verdict == "ahead" else WITHIN
        sign = lay.px(16)
        cap = self._text.fit(word, min(lay.say, round(box.h * 0.62)), box.w - 5 * sign)
        wide = self._text.width(word, cap)
        whole = wide + round(sign * 2.6)
        left = box.middle[0] - whole // 2
        base = box.middle[1] + cap // 2
        at_left = newest.verdict == "within" or facing > 0
        # The wedge stands between word and runner's back, so its tip leads the eye back.
        sign_x = left + sign if at_left else left + whole - sign
        text_x = left + round(sign * 2.6) if at_left else left
        shapes.verdict_mark(
            screen, (sign_x, box.middle[1]), sign, newest.verdict, colour, (-facing, 0.0)
        )
        self._text.draw(screen, word, (text_x, base), cap, colour)
