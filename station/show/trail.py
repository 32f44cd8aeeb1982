"""The last landings of each foot against its knee's plumb line.

A small picture of what the guides show on the runner: the knee and its plumb line, the allowed
stretch beside it, and each landing as far off the line as its shank was off the plumb, ahead on
the side that is ahead on the runner. The newest stands lowest, next to the belt where the wings
reach it; time runs downwards on an upright screen, too.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from station.coach.scene import TrailMark
from station.show import shapes
from station.show.kept import KeptPanel
from station.show.layout import Box, Layout
from station.show.palette import DUSK, MUTED, PLUMB, WHITE, ZONE, verdict_colour
from station.show.panel import fill
from station.show.text import TextBook
from station.show.wording import Wording
from station.values import Side, Verdict

Image = NDArray[np.uint8]
SHOWN = 10
"""Landings shown of each foot at the most."""
BACK_DEG, AHEAD_DEG = 4.0, 19.0
"""Shank angles at the picture's edges; more is drawn at the edge."""
USUAL_LIMIT_DEG = 8.0
"""Where the limit is drawn while no landing has told it."""
_ROW = 27  # design pixels from landing to landing


class Trail:
    """Paints one foot's last landings. Used by one thread."""

    def __init__(self, layout: Layout, text: TextBook, words: Wording, side: Side) -> None:
        """Keep the tools.

        Args:
            layout: Gives the sizes.
            text: Renders the words.
            words: Gives them.
            side: The foot.
        """
        self._side = side
        self._layout = layout
        self._text = text
        self._words = words
        self._kept = KeptPanel()

    def paint(
        self,
        screen: Image,
        box: Box,
        trail: Sequence[TrailMark],
        share: float | None,
        facing: float,
        fresh: Verdict | None,
    ) -> None:
        """Paint the foot's word, its share of landings within, and its last landings.

        Args:
            screen: Changed in place.
            box: Where.
            trail: Landings of both feet, oldest first.
            share: Share of its landings within, 0 to 1; None: not to be told.
            facing: +1 where ahead is to the right on the screen, -1 to the left.
            fresh: The verdict of this foot's landing while it is the newest: its word and newest
                mark stand out; None: it is the other foot's turn, or there is no verdict.
        """
        marks = tuple(mark for mark in trail if mark.side == self._side)[-SHOWN:]

        def content(image: Image, own: Box) -> None:
            self._content(image, own, marks, share, facing, fresh)

        self._kept.lay(screen, box, (marks, share, facing, fresh), content)

    def across(self, box: Box, deg: float, facing: float) -> float:
        """Return the column where a shank angle lies, pixels; 0 is the knee's plumb line."""
        edge = self._layout.px(26)
        per_deg = (box.w - 2 * edge) / (BACK_DEG + AHEAD_DEG)
        deg = min(max(deg, -BACK_DEG), AHEAD_DEG)
        behind = box.x + edge if facing > 0.0 else box.right - edge
        return behind + facing * (deg + BACK_DEG) * per_deg

    def _content(
        self,
        image: Image,
        box: Box,
        marks: Sequence[TrailMark],
        share: float | None,
        facing: float,
        fresh: Verdict | None,
    ) -> None:
        lay, text = self._layout, self._text
        line = box.y + lay.read
        word = self._words.label(f"{self._side}_foot")
        colour = MUTED if fresh is None else verdict_colour(fresh)
        text.draw(image, word, (box.x + lay.pad, line), lay.read, colour)
        if share is not None:
            told = f"{100.0 * share:.0f} %"
            text.draw(image, told, (box.right - lay.pad, line), lay.read, WHITE, "right")
        top = line + lay.px(20)
        low = box.bottom
        if not lay.upright:  # the belt's line goes on under both wings
            low -= lay.deck
            shapes.line(image, (box.x, low), (box.right, low), MUTED, lay.px(2), 0)
        if low - top < lay.px(3 * _ROW):
            return
        limits = (d for m in reversed(marks) if (d := _limit(m)) is not None)
        limit_deg = next(limits, USUAL_LIMIT_DEG)
        self._ground(image, Box(box.x, top, box.w, low - top), limit_deg, facing)
        room = low - top - lay.px(44)
        rows = max(1, min(SHOWN, room // lay.px(_ROW)))
        begin, step = low - lay.px(20), lay.px(_ROW)
        for row, mark in enumerate(list(reversed(marks))[:rows]):
            newest = fresh is not None and row == 0
            self._mark(image, box, mark, limit_deg, begin - row * step, newest, facing)

    def _ground(self, image: Image, box: Box, limit_deg: float, facing: float) -> None:
        """Paint the knee, its plumb line, and the stretch within up to the limit."""
        px = self._layout.px
        post = self.across(box, limit_deg, facing)
        back = self.across(box, -BACK_DEG, facing)
        knee = self.across(box, 0.0, facing)
        left, right = sorted((round(post), round(back)))
        fill(image, Box(left, box.y, right - left, box.h), DUSK)
        shapes.line(image, (post, box.y), (post, box.bottom - 1), ZONE, px(4), 0)
        shapes.line(image, (knee, box.y), (knee, box.bottom - 1), PLUMB, px(2), 0)
        shapes.disc(image, (knee, box.y + px(8)), px(8), PLUMB, 2)

    def _mark(
        self,
        image: Image,
        box: Box,
        mark: TrailMark,
        limit_deg: float,
        y: float,
        newest: bool,
        facing: float,
    ) -> None:
        # By its own distance from its own limit: beyond the one post just when the word was ahead.
        deg = mark.shank_deg if mark.over_limit_deg is None else limit_deg + mark.over_limit_deg
        deg = 0.0 if deg is None else deg
        size = self._layout.px(14 if newest else 10)
        at = (self.across(box, deg, facing), y)
        back = (-facing, 0.0)
        shapes.verdict_mark(image, at, size, mark.verdict, verdict_colour(mark.verdict), back)


def _limit(mark: TrailMark) -> float | None:
    """Return beyond which shank angle a landing was ahead, degrees; None: it does not tell."""
    if mark.shank_deg is None or mark.over_limit_deg is None:
        return None
    return mark.shank_deg - mark.over_limit_deg
