"""Draw shapes given in the bay's metres into an image, exact to a fraction of a pixel.

OpenCV counts pixel centres as whole numbers; the project counts them as halves (the image's corner
is 0, 0), as the pose model does. The half pixel between the two is taken off in one place, here.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from station.values import Floats, View

_SHIFT = 4
_ONE_PX = 1 << _SHIFT
Colour = tuple[float, float, float]
"""Blue, green, red, 0 to 255."""


@lru_cache(maxsize=512)
def tinted(colour: Colour, factor: float) -> Colour:
    """Scale a colour's brightness, held within 0 to 255."""
    blue, green, red = (min(255.0, part * factor) for part in colour)
    return (blue, green, red)


class Shape:
    """Several polygons in one local frame, each with a brightness; placed by an affine map."""

    def __init__(self, polygons: Sequence[tuple[Floats, float]]) -> None:
        """Take the polygons in painting order: points (n, 2) and brightness of each."""
        self.points = np.concatenate([points for points, _ in polygons])
        ends = np.cumsum([len(points) for points, _ in polygons]).tolist()
        self.parts = tuple(
            (end - len(points), end, brightness)
            for end, (points, brightness) in zip(ends, polygons, strict=True)
        )


class Brush:
    """Fills polygons in one image under one view; made anew for each image."""

    def __init__(self, image: NDArray[np.uint8], view: View, light: float = 1.0) -> None:
        """Take the image to draw into.

        Args:
            image: (height, width, 3) BGR, written to.
            view: How the bay lies in the image.
            light: Factor on every colour, 1 is full light.
        """
        self.image = image
        self._light = light
        self._matrix = view.axes() * (view.px_per_m * _ONE_PX)
        self._offset = (np.asarray(view.origin_px) - 0.5) * _ONE_PX

    def _fill(self, points: NDArray[np.int32], colour: Colour) -> None:
        cv2.fillPoly(self.image, [points], colour, cv2.LINE_AA, _SHIFT)

    def polygon(self, points_m: Floats, colour: Colour) -> None:
        """Fill the polygon (n, 2) of bay points with one colour, edges smoothed."""
        points = np.rint(points_m @ self._matrix + self._offset).astype(np.int32)
        self._fill(points, tinted(colour, self._light))

    def shape(self, shape: Shape, origin: Floats, axes: Floats, colour: Colour) -> None:
        """Fill a shape's polygons, each in the colour times its brightness.

        Args:
            shape: What to fill.
            origin: (2,) where the shape's origin lies, bay frame, metres.
            axes: (2, 2) rows: the shape's first and second unit as bay vectors, metres.
            colour: The shape's own colour.
        """
        placed = shape.points @ (axes @ self._matrix) + (origin @ self._matrix + self._offset)
        points = np.rint(placed).astype(np.int32)
        for start, end, brightness in shape.parts:
            self._fill(points[start:end], tinted(colour, brightness * self._light))
