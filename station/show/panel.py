"""The dark backing that lies under all text."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from station.show.layout import Box
from station.show.palette import BACKING, INK, Colour

Image = NDArray[np.uint8]
_cut_masks: dict[int, NDArray[np.bool_]] = {}


def back(screen: Image, box: Box, cut: int = 0) -> None:
    """Darken a box of the screen, its upper left and lower right corners cut off slantwise.

    Args:
        screen: (H, W, 3), changed in place.
        box: Clipped to the screen.
        cut: Length of the cut corners' sides, pixels; 0: a plain rectangle.
    """
    x0, y0 = max(box.x, 0), max(box.y, 0)
    area = screen[y0 : min(box.bottom, screen.shape[0]), x0 : min(box.right, screen.shape[1])]
    if area.size == 0:
        return
    corners: list[tuple[Image, Image, NDArray[np.bool_]]] = []
    if 0 < cut < min(area.shape[:2]):
        mask = cut_mask(cut)
        for part, kept in ((area[:cut, :cut], mask), (area[-cut:, -cut:], mask[::-1, ::-1])):
            corners.append((part, part.copy(), kept))
    # Scaling and adding one grey is a single pass; INK is grey enough for that.
    cv2.convertScaleAbs(area, dst=area, alpha=1.0 - BACKING, beta=BACKING * sum(INK) / 3.0)
    for part, before, kept in corners:
        part[kept] = before[kept]


def edge(screen: Image, box: Box, colour: Colour, wide: int) -> None:
    """Draw a bar along the left edge of a box."""
    fill(screen, Box(box.x, box.y, wide, box.h), colour)


def fill(screen: Image, box: Box, colour: Colour) -> None:
    """Fill a box."""
    # Many times faster than assigning one colour to a slice.
    cv2.rectangle(screen, (box.x, box.y), (box.right - 1, box.bottom - 1), colour, cv2.FILLED)


def hazard(screen: Image, box: Box, colour: Colour, stripe: int) -> None:
    """Fill a box with slanting stripes of `colour` and near-black."""
    fill(screen, box, INK)
    area = screen[max(box.y, 0) : box.bottom, max(box.x, 0) : box.right]
    for x in range(-box.h, box.w + box.h, 2 * stripe):
        points = np.array(
            [(x, box.h), (x + stripe, box.h), (x + stripe + box.h, 0), (x + box.h, 0)], np.int32
        )
        cv2.fillPoly(area, [points], colour, cv2.LINE_AA)


def cut_mask(cut: int) -> NDArray[np.bool_]:
    """Return (cut, cut): True in the upper left half, the part that is cut off."""
    if cut not in _cut_masks:
        rows, columns = np.indices((cut, cut))
        _cut_masks[cut] = rows + columns < cut
    return _cut_masks[cut]
