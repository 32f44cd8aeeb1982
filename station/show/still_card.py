"""What just happened: the last landing frozen at its contact, beside the best one so far.

Both stand on the stage, on one belt line, with the same guides as on the runner and the angle
between the shank and the knee's plumb line; the foot is named.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from station.coach.scene import LandingStill
from station.show import shapes
from station.show.framing import Framing
from station.show.guides import Guides
from station.show.kept import KeptPanel
from station.show.layout import Box, Layout
from station.show.mirror import Mirror
from station.show.palette import MUTED, NIGHT, WHITE, verdict_colour
from station.show.panel import fill
from station.show.text import TextBook
from station.show.wording import Wording

Image = NDArray[np.uint8]
SEEN_M = 0.95
"""How much above the belt is shown at the least."""
_GAP = 6


class StillCard:
    """Paints the stills. Used by one thread."""

    def __init__(self, layout: Layout, text: TextBook, words: Wording, guides: Guides) -> None:
        """Keep the tools."""
        self._layout = layout
        self._text = text
        self._words = words
        self._guides = guides
        self._kept = KeptPanel()
        self._held: tuple[LandingStill, ...] = ()

    def paint(self, screen: Image, stills: Sequence[LandingStill]) -> Box:
        """Paint one or two stills over the stage.

        Args:
            screen: Changed in place.
            stills: The last landing, then the best one.

        Returns:
            Where they were painted.
        """
        box = self._layout.stage
        self._held = tuple(stills)  # held, so that no other gets the same identity

        def content(image: Image, own: Box) -> None:
            self._content(image, own)

        self._kept.lay(screen, box, tuple(id(still) for still in self._held), content)
        return box

    def _content(self, image: Image, box: Box) -> None:
        gap = self._layout.px(_GAP)
        count = max(2, len(self._held))
        wide = (box.w - (count + 1) * gap) // count
        left = (box.w - len(self._held) * (wide + gap) + gap) // 2
        for number, still in enumerate(self._held):
            place = Box(left + number * (wide + gap), gap, wide, box.h - gap)
            self._still(image, place, still, "still_best" if number else "still_last")

    def _still(self, image: Image, box: Box, still: LandingStill, title: str) -> None:
        lay, text, mark = self._layout, self._text, still.mark
        head = lay.px(32) + 2 * lay.read
        foot = lay.px(54) + lay.loud
        room = Box(box.x, box.y + head, box.w, box.h - head - foot)
        mirror = self._laid(image, room, still)
        facing = -1.0 if still.view.faces == "right" else 1.0
        knee, ankle = mirror.point(mark.knee_px), mirror.point(mark.ankle_px)
        shapes.line(image, knee, ankle, MUTED, lay.px(3), 2)
        self._guides.marks(image, mark, mirror, facing, True, np.zeros(2))
        line = box.y + lay.px(6) + lay.read
        for key, ink in ((title, WHITE), (f"{mark.side}_foot", MUTED)):
            said = self._words.label(key)
            cap = text.fit(said, lay.read, box.w, lay.read)
            text.draw(image, said, (box.middle[0], line), cap, ink, "centre")
            line += lay.px(14) + lay.read
        colour = verdict_colour(mark.verdict)
        line = box.bottom - lay.px(20)
        degrees = _degrees(still)
        wide = text.width(degrees, lay.loud) + lay.px(16)
        limit = self._limit(still, box.w)
        whole = wide + text.width(limit, lay.read)
        left = box.middle[0] - whole // 2 + lay.px(20)
        sign = (left - lay.px(30), line - lay.loud / 2.0)
        shapes.verdict_mark(image, sign, lay.px(14), mark.verdict, colour, (-facing, 0.0))
        text.draw(image, degrees, (left, line), lay.loud, colour)
        text.draw(image, limit, (left + wide, line), lay.read, MUTED)

    def _limit(self, still: LandingStill, room: int) -> str:
        """Return a still's limit: its word before it where all that are shown have room for it."""
        if still.limit_deg is None:
            return ""
        lay, text = self._layout, self._text
        word = f"{self._words.label('coach_limit')} "
        for held in self._held:
            told = f"{word}{held.limit_deg or 0.0:.0f}\u00b0"
            taken = text.width(_degrees(held), lay.loud) + text.width(told, lay.read)
            if taken + lay.px(16 + 60) > room:
                word = "/ "
                break
        return f"{word}{still.limit_deg:.0f}\u00b0"

    def _laid(self, image: Image, room: Box, still: LandingStill) -> Mirror:
        """Lay the picture so that the knee's plumb line is in the middle; return how it lies."""
        view, mark = still.view, still.mark
        high, wide = still.frame.image.shape[:2]
        belt = room.bottom - self._layout.px(34)
        scale = (belt - room.y) / (SEEN_M * view.px_per_m)
        plumb = (wide - 1.0 - mark.plumb_px[0], mark.plumb_px[1])
        frame = Framing(scale, plumb, (float(room.middle[0]), float(belt)), room)
        mirror = Mirror((wide, high), (image.shape[1], image.shape[0]), frame)
        mirror.picture_into(still.frame.image, image)
        rise = math.tan(math.radians(view.belt_rise_deg + view.roll_deg))
        y = mirror.point(mark.plumb_px)
        half = room.w / 2.0
        for way in (-1.0, 1.0):
            end = (y[0] + way * half, y[1] + way * half * rise)
            shapes.line(image, tuple(y), end, MUTED, self._layout.px(2), 0)
        low = Box(room.x, round(float(y[1])) + self._layout.px(18), room.w, 0)
        fill(image, Box(low.x, low.y, low.w, max(1, room.bottom - low.y)), NIGHT)
        return mirror


def _degrees(still: LandingStill) -> str:
    deg = still.mark.shank_deg
    return "" if deg is None else f"{deg:.0f}\u00b0"
