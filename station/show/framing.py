"""Which part of the camera's picture the stage shows, and how large.

The belt's line is laid where the screen wants it, and the runner as large as leaves the head in
the picture; a picture without a known view is laid so that it covers the stage.
"""

from __future__ import annotations

from dataclasses import dataclass

from station.show.layout import Box, Layout
from station.values import View

HEAD_ROOM_M = 2.05
"""Shown above the belt: a runner of 1.9 m at the top of a stride."""
LARGEST = 3.0
"""A picture is enlarged no further: it would show nothing but its pixels."""
STEADY = 0.03
"""A scale that a view being learned changes by less keeps the picture still."""


@dataclass(frozen=True, slots=True)
class Framing:
    """A scale, and which point of the mirrored picture lies where on the screen."""

    scale: float
    """Screen pixels per picture pixel."""
    picture_xy: tuple[float, float]
    """A point of the mirrored picture, pixels."""
    screen_xy: tuple[float, float]
    """Where it lies on the screen."""
    window: Box
    """The part of the screen that the picture may fill."""

    def holds(self, wanted: Framing, steady_px: float) -> bool:
        """Whether another framing is so like this one that the picture is better left still."""
        if self.window != wanted.window:
            return False
        if abs(wanted.scale / self.scale - 1.0) > STEADY:
            return False
        x, y = (
            (p - q) * self.scale + s - t
            for p, q, s, t in zip(
                wanted.picture_xy, self.picture_xy, self.screen_xy, wanted.screen_xy, strict=True
            )
        )
        return max(abs(x), abs(y)) <= steady_px


def framing(picture: tuple[int, int], view: View | None, layout: Layout) -> Framing:
    """Choose how the picture is laid on the stage.

    Args:
        picture: Width and height, pixels.
        view: Where the belt lies in it; None: not known yet.
        layout: Gives the stage and the belt's row.

    Returns:
        The framing. Where the picture has nothing to show, the stage stays dark.
    """
    stage = layout.stage
    wide, high = picture
    middle = stage.x + stage.w / 2.0
    if view is None:
        scale = min(max(stage.w / wide, stage.h / high), LARGEST)
        return Framing(scale, (wide / 2.0, float(high)), (middle, float(stage.bottom)), stage)
    belt_x, belt_y = wide - 1.0 - view.origin_px[0], view.origin_px[1]
    above = layout.belt_y - stage.y
    scale = above / (HEAD_ROOM_M * view.px_per_m)
    if belt_y > 0.0:
        scale = max(scale, min(above / belt_y, 1.3 * scale))  # no dark rim above if it can be
    scale = min(max(scale, 0.2), LARGEST)
    half = stage.w / (2.0 * scale)
    # The belt's middle is in the stage's middle, but the stage is filled where the picture can.
    centre = min(max(belt_x, half), wide - half) if wide > 2.0 * half else wide / 2.0
    return Framing(scale, (centre, belt_y), (middle, float(layout.belt_y)), stage)
