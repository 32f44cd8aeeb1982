"""How bright and how sharp a camera's pictures are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from station.see.opencv import cv2

Image = NDArray[np.uint8]

_WINDOW_PX = 15
_CONTRAST = 50.0
"""Grey levels, of 255, within a window from which it holds an edge; noise never has so many."""
_LEAST_SHARE = 0.002
_WHITE = 250


@dataclass(frozen=True, slots=True)
class PictureQuality:
    """What was found."""

    brightness: float
    """Mean grey level, 0 (black) to 1 (white)."""
    white: float
    """Share of the picture that is wholly white: nothing can be seen there."""
    edge_px: float | None
    """How wide the edges are, in pixels of the picture: contrast over steepest slope, the median; 1
    to 3 where it is sharp. None: the picture has no edges to go by."""


def picture_quality(images: Sequence[Image]) -> PictureQuality:
    """Judge pictures of one camera that stands still.

    Their mean is judged, which is free of noise; whoever moves is not seen in it. Noise would make
    every edge look steep.

    Args:
        images: One or more of (height, width, 3) uint8 BGR, all of one size; a dozen is enough.
    """
    total = np.zeros(images[0].shape[:2], np.float32)
    for image in images:
        total += cv2.cvtColor(image, cv2.COLOR_BGR2GRAY)
    grey = total / len(images)
    return PictureQuality(float(grey.mean()) / 255.0, float((grey > _WHITE).mean()), _edge_px(grey))


def _edge_px(grey: NDArray[np.float32]) -> float | None:
    kernel = np.ones((_WINDOW_PX, _WINDOW_PX), np.uint8)
    contrast = cv2.dilate(grey, kernel) - cv2.erode(grey, kernel)
    along = np.abs(np.diff(grey, axis=1, prepend=grey[:, :1]))
    down = np.abs(np.diff(grey, axis=0, prepend=grey[:1]))
    steepest = cv2.dilate(np.maximum(along, down), kernel)
    edges = contrast > _CONTRAST
    if edges.mean() < _LEAST_SHARE:
        return None
    return float(np.median(contrast[edges] / steepest[edges]))
