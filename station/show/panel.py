"""Plain grounds: filled boxes, and the stripes round what must be seen."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from station.show.layout import Box
from station.show.palette import GREEN, INK, NIGHT, Colour

Image = NDArray[np.uint8]


def back(screen: Image, box: Box) -> None:
    """Lay the dark ground that all text stands on."""
    fill(screen, box, NIGHT)


def edge(screen: Image, box: Box, colour: Colour, wide: int) -> None:
    """Draw a bar along the left edge of a box."""
    fill(screen, Box(box.x, box.y, wide, box.h), colour)


def fill(screen: Image, box: Box, colour: Colour) -> None:
    """Fill a box."""
    # Many times faster than assigning one colour to a slice.
    cv2.rectangle(screen, (box.x, box.y), (box.right - 1, box.bottom - 1), colour, cv2.FILLED)


def frame(screen: Image, box: Box, rim: Colour, wide: int, ground: Colour = INK) -> Box:
    """Fill a box with a rim round it; return what is inside."""
    fill(screen, box, rim)
    inside = Box(box.x + wide, box.y + wide, box.w - 2 * wide, box.h - 2 * wide)
    fill(screen, inside, ground)
    return inside


def gauge(screen: Image, box: Box, share: float, rim: Colour, wide: int) -> None:
    """Draw how far something has come.

    Args:
        screen: Changed in place.
        box: Where, its rim included.
        share: 0 to 1; what is outside is drawn as the nearer end.
        rim: The rim's colour.
        wide: The rim's width, pixels.
    """
    inside = frame(screen, box, rim, wide)
    full = round(inside.w * min(1.0, max(0.0, share)))
    if full:
        fill(screen, Box(inside.x, inside.y, full, inside.h), GREEN)


def hazard(screen: Image, box: Box, colour: Colour, stripe: int) -> None:
    """Fill a box with slanting stripes of `colour` and near-black."""
    fill(screen, box, INK)
    area = screen[max(box.y, 0) : box.bottom, max(box.x, 0) : box.right]
    for x in range(-box.h, box.w + box.h, 2 * stripe):
        points = np.array(
            [(x, box.h), (x + stripe, box.h), (x + stripe + box.h, 0), (x + box.h, 0)], np.int32
        )
        cv2.fillPoly(area, [points], colour, cv2.LINE_AA)
