"""A panel that is painted when its content changes and only copied otherwise."""

from __future__ import annotations

from collections.abc import Callable, Hashable

import numpy as np
from numpy.typing import NDArray

from station.show.layout import Box
from station.show.palette import NIGHT
from station.show.panel import fill

Image = NDArray[np.uint8]


class KeptPanel:
    """Owns one opaque panel's picture. Used by one thread."""

    def __init__(self) -> None:
        """Start with nothing painted."""
        self._key: Hashable = None
        self._image: Image | None = None
        self._at: Box | None = None

    def clear(self, screen: Image, part: Box) -> bool:
        """Lay a part of the panel once more, as it was laid last.

        Args:
            screen: Changed in place.
            part: In the screen's pixels; wholly within the panel.

        Returns:
            Whether there was anything to lay.
        """
        image, at = self._image, self._at
        if image is None or at is None:
            return False
        own = image[part.y - at.y : part.bottom - at.y, part.x - at.x : part.right - at.x]
        np.copyto(screen[part.y : part.bottom, part.x : part.right], own)
        return True

    def lay(
        self,
        screen: Image,
        box: Box,
        key: Hashable,
        paint: Callable[[Image, Box], None],
    ) -> None:
        """Lay the panel into the screen, painting it anew only if `key` has changed.

        Args:
            screen: Changed in place.
            box: Where; wholly on the screen.
            key: All that the panel's look depends on, apart from the box's size.
            paint: Paints the content into the panel's own picture, whose box it is given.
        """
        image = self._image
        if image is None or image.shape[:2] != (box.h, box.w):
            image = self._image = np.empty((box.h, box.w, 3), np.uint8)
            self._key = None
        self._at = box
        if self._key is None or self._key != key:
            own = Box(0, 0, box.w, box.h)
            fill(image, own, NIGHT)
            paint(image, own)
            self._key = key
        np.copyto(screen[box.y : box.bottom, box.x : box.right], image)
