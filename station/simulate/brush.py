"""Draw shapes given in the bay's metres into an image, exact to a fraction of a pixel.

OpenCV counts pixel centres as whole numbers; the project counts them as halves (the image's corner
is 0, 0), as the pose model does. The half pixel between the two is taken off in one place, here.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from station.values import Floats, View

_SHIFT = 4
_ONE_PX = 1 << _SHIFT
Colour = tuple[float, float, float]
"""Blue, green, red, 0 to 255."""


def tinted(colour: Colour, factor: float) -> Colour:
    """Scale a colour's brightness, held within 0 to 255."""
    blue, green, red = (min(255.0, part * factor) for part in colour)
    return (blue, green, red)


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
        self._px_per_m = view.px_per_m

    def _points(self, points_m: Floats) -> NDArray[np.int32]:
        return np.rint(points_m @ self._matrix + self._offset).astype(np.int32)

    def polygon(self, points_m: Floats, colour: Colour) -> None:
        """Fill the polygon (n, 2) of bay points with one colour, edges smoothed."""
        cv2.fillPoly(
            self.image, [self._points(points_m)], tinted(colour, self._light), cv2.LINE_AA, _SHIFT
        )

    def line(self, points_m: Floats, colour: Colour, width_m: float) -> None:
        """Draw an open line through bay points (n, 2), at least one pixel wide."""
        cv2.polylines(
            self.image,
            [self._points(points_m)],
            False,
            tinted(colour, self._light),
            max(1, round(width_m * self._px_per_m)),
            cv2.LINE_AA,
            _SHIFT,
        )

    def disc(self, centre_m: Floats, radius_m: float, colour: Colour) -> None:
        """Fill a disc about a bay point."""
        x, y = self._points(np.asarray(centre_m))
        cv2.circle(
            self.image,
            (int(x), int(y)),
            round(radius_m * self._px_per_m * _ONE_PX),
            tinted(colour, self._light),
            cv2.FILLED,
            cv2.LINE_AA,
            _SHIFT,
        )
