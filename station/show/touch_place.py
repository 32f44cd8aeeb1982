"""One place to touch: a field with a rim, what it does, and the key that does the same."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from station.show import shapes
from station.show.layout import Box, Layout
from station.show.palette import BEAT, GREEN, MUTED, WHITE, Colour
from station.show.panel import fill
from station.show.text import TextBook

Image = NDArray[np.uint8]
FIELD: Colour = (52, 47, 44)
"""The ground of a place to touch."""


def paint_place(
    screen: Image,
    box: Box,
    label: str,
    lay: Layout,
    text: TextBook,
    face: str = "",
    chosen: bool = False,
    strong: bool = False,
) -> None:
    """Paint a place to touch.

    Args:
        screen: Changed in place.
        box: Where.
        label: What it does.
        lay: Gives sizes.
        text: Renders.
        face: What stands on its key; empty: it has none.
        chosen: It is the one of several that holds now.
        strong: It is the way on: its rim is bright.
    """
    rim = GREEN if chosen else BEAT if strong else MUTED
    edge = lay.px(4 if chosen or strong else 2)
    fill(screen, box, rim)
    fill(screen, Box(box.x + edge, box.y + edge, box.w - 2 * edge, box.h - 2 * edge), FIELD)
    cap = min(lay.px(19), round(box.h * 0.4))
    left, right = box.x + lay.px(12), box.right - lay.px(12)
    if face:
        small = round(cap * 0.8)
        wide = text.width(face, small) + lay.px(14)
        high = small + lay.px(14)
        y = box.y + (box.h - high) // 2
        cv2.rectangle(screen, (left, y), (left + wide, y + high), BEAT, lay.px(2))
        text.draw(screen, face, (left + wide // 2, y + (high + small) // 2), small, BEAT, "centre")
        left += wide + lay.px(12)
    if chosen:
        shapes.tick(screen, (right - cap * 0.7, box.middle[1]), cap * 0.6, GREEN)
        right -= round(1.9 * cap)
    fitted = text.fit(label, cap, right - left, lay.px(13))
    shown = text.shorten(label, fitted, right - left)
    text.draw(screen, shown, (left, box.y + (box.h + fitted) // 2), fitted, WHITE)
