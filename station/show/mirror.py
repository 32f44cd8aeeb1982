"""The one place where the picture and its points are mirrored.

Pixel-centre convention: a pixel's coordinates are those of its centre, so the centre of the
leftmost pixel of a picture `width` wide is x = 0 and mirrors to x = width - 1.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from station.values import Floats


class Mirror:
    """Fits a camera picture into the screen, mirrored; never distorted, never cropped.

    Where the two differ in shape, the picture is centred and the rest stays dark.
    """

    def __init__(self, picture: tuple[int, int], screen: tuple[int, int]) -> None:
        """Work out the fit.

        Args:
            picture: Width and height of the camera's picture, pixels.
            screen: Width and height of the screen, pixels.
        """
        self.picture = picture
        self.screen = screen
        self.scale = min(screen[0] / picture[0], screen[1] / picture[1])
        self._size = (
            max(1, round(picture[0] * self.scale)), max(1, round(picture[1] * self.scale)),
        )  # fmt: skip
        self._corner = ((screen[0] - self._size[0]) // 2, (screen[1] - self._size[1]) // 2)
        self._scaled: NDArray[np.uint8] | None = None
        if self._size != picture:
            self._scaled = np.empty((self._size[1], self._size[0], 3), np.uint8)

    @property
    def fills(self) -> bool:
        """Whether the mirrored picture covers the whole screen."""
        return self._size == self.screen

    def point(self, xy_px: Floats | tuple[float, float]) -> Floats:
        """Return screen points (..., 2) of image points (..., 2) as the camera sees them."""
        xy = np.asarray(xy_px, dtype=np.float64)
        out = np.empty_like(xy)
        factor_x = self._size[0] / self.picture[0]
        factor_y = self._size[1] / self.picture[1]
        mirrored_x = self.picture[0] - 1.0 - xy[..., 0]
        out[..., 0] = (mirrored_x + 0.5) * factor_x - 0.5 + self._corner[0]
        out[..., 1] = (xy[..., 1] + 0.5) * factor_y - 0.5 + self._corner[1]
        return out

    def picture_into(self, image: NDArray[np.uint8], screen: NDArray[np.uint8]) -> None:
        """Lay the mirrored camera picture into the screen's buffer; allocates nothing."""
        x, y = self._corner
        target = screen[y : y + self._size[1], x : x + self._size[0]]
        if self._scaled is None:
            cv2.flip(image, 1, dst=target)
        else:
            cv2.resize(image, self._size, dst=self._scaled, interpolation=cv2.INTER_LINEAR)
            cv2.flip(self._scaled, 1, dst=target)
