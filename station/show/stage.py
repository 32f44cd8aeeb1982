"""The ground of every picture: the runner on the lit stage, dark wings and floor around it."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from station.coach.scene import Scene
from station.show.framing import framing
from station.show.layout import Box, Layout
from station.show.mirror import Mirror
from station.show.palette import INK, NIGHT
from station.show.panel import fill

Image = NDArray[np.uint8]
_ASIDE = 0.45  # brightness of the picture behind a card that ends or stops the running
_DIMMED = ("paused", "done")
_SOFT = 56  # design pixels over which the stage's light falls off


class Stage:
    """Paints the ground and knows how the picture lies on it. Used by one thread."""

    def __init__(self, layout: Layout) -> None:
        """Make what is laid under and over the picture."""
        self._layout = layout
        stage = layout.stage
        whole = Box(0, 0, layout.width, layout.height)
        self._around = _around(whole, stage)
        self._below = _around(layout.lit, stage)
        # To copy a dark row over and over takes half as long as to fill with a colour.
        self._night = np.empty((1, layout.width, 3), np.uint8)
        self._night[:] = NIGHT
        screen = (layout.width, layout.height)
        self.mirror = Mirror(screen, screen, framing(screen, None, layout))
        self._soft = min(layout.px(_SOFT), stage.w // 6)
        fall = np.linspace(0.0, 1.0, self._soft) ** 1.5
        across = np.repeat((255.0 * fall)[None, :, None], stage.h, axis=0)
        self._keep = np.ascontiguousarray(np.repeat(across, 3, axis=2).round().astype(np.uint8))
        night = (1.0 - self._keep / 255.0) * np.array(NIGHT, dtype=np.float64)
        self._shade = np.ascontiguousarray(night.round().astype(np.uint8))
        # The other side is the same the other way round.
        self._keep_right = np.ascontiguousarray(self._keep[:, ::-1])
        self._shade_right = np.ascontiguousarray(self._shade[:, ::-1])

    def paint(self, screen: Image, scene: Scene, whole: bool = True) -> None:
        """Paint picture, wings and floor.

        Args:
            screen: Changed in place.
            scene: Its picture and view say how the picture is laid.
            whole: The whole screen is painted over; else only what is lit of it (`Layout.lit`).
        """
        frame = scene.frame
        if frame is not None:
            self._aim(scene, (frame.image.shape[1], frame.image.shape[0]))
        box = self._layout.stage
        self._darken(screen, self._around if whole else self._below)
        if frame is None or not scene.show_view:
            fill(screen, box, INK)
            return
        self._darken(screen, _around(box, self.mirror.box))  # where there is nothing to show
        self.mirror.picture_into(frame.image, screen)
        lit = screen[box.y : box.bottom, box.x : box.right]
        if scene.state in _DIMMED:
            cv2.convertScaleAbs(lit, dst=lit, alpha=_ASIDE)
        if not self._layout.upright:
            self._fall_off(lit[:, : self._soft], self._keep, self._shade)
            self._fall_off(lit[:, -self._soft :], self._keep_right, self._shade_right)

    def clear_word(self, screen: Image) -> None:
        """Paint over a landing's word, and nothing else."""
        self._darken(screen, (self._layout.word_row,))

    def _aim(self, scene: Scene, size: tuple[int, int]) -> None:
        """Lay the picture anew where its size or the view has changed by more than a little."""
        wanted = framing(size, scene.view, self._layout)
        steady = size == self.mirror.picture
        if steady and self.mirror.frame.holds(wanted, self._layout.px(5)):
            return
        self.mirror = Mirror(size, (self._layout.width, self._layout.height), wanted)

    def _darken(self, screen: Image, parts: tuple[Box, ...]) -> None:
        for part in parts:
            np.copyto(screen[part.y : part.bottom, part.x : part.right], self._night[:, : part.w])

    @staticmethod
    def _fall_off(part: Image, keep: Image, shade: Image) -> None:
        cv2.multiply(part, keep, dst=part, scale=1.0 / 255.0)
        cv2.add(part, shade, dst=part)


def _around(whole: Box, hole: Box) -> tuple[Box, ...]:
    """Return the boxes that cover `whole` but for a hole in it."""
    found = (
        Box(whole.x, whole.y, whole.w, hole.y - whole.y),
        Box(whole.x, hole.bottom, whole.w, whole.bottom - hole.bottom),
        Box(whole.x, hole.y, hole.x - whole.x, hole.h),
        Box(hole.right, hole.y, whole.right - hole.right, hole.h),
    )
    return tuple(box for box in found if box.w > 0 and box.h > 0)
