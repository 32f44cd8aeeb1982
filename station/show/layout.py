"""Where things stand on the screen, in pixels, for any screen size.

The runner's own upper and lower body stays free: panels keep to the upper corners, the middle of
the top band and a strip below the belt.
"""

from __future__ import annotations

from dataclasses import dataclass

from station.show.legibility import READ_CAP


@dataclass(frozen=True, slots=True)
class Box:
    """An upright rectangle in screen pixels."""

    x: int
    y: int
    w: int
    h: int

    @property
    def right(self) -> int:
        """The first column beyond it."""
        return self.x + self.w

    @property
    def bottom(self) -> int:
        """The first row beyond it."""
        return self.y + self.h

    @property
    def middle(self) -> tuple[int, int]:
        """Its centre."""
        return self.x + self.w // 2, self.y + self.h // 2


@dataclass(frozen=True, slots=True)
class Layout:
    """All sizes, from the screen's width and height and the text's enlargement."""

    width: int
    height: int
    text_scale: float = 1.0

    @property
    def unit(self) -> float:
        """Pixels per pixel of the 1280 x 720 design."""
        return min(self.width / 1280.0, self.height / 720.0)

    def px(self, design_px: float) -> int:
        """Return a design length in screen pixels."""
        return max(1, round(design_px * self.unit))

    def cap(self, design_px: float) -> int:
        """Return a capital height in screen pixels, enlarged for the viewing distance."""
        return max(6, round(design_px * self.unit * self.text_scale))

    @property
    def note(self) -> int:
        """Capital height of notices: for the coach, who stands nearer."""
        return self.cap(20)

    @property
    def read(self) -> int:
        """Capital height of the smallest text for the runner."""
        return self.cap(READ_CAP)

    @property
    def say(self) -> int:
        """Capital height of the sentence while running."""
        return self.cap(35)

    @property
    def loud(self) -> int:
        """Capital height of words that must not be missed."""
        return self.cap(44)

    @property
    def big(self) -> int:
        """Capital height of the big numbers."""
        return self.cap(70)

    @property
    def margin(self) -> int:
        """Between the screen's edge and a panel."""
        return self.px(14)

    @property
    def pad(self) -> int:
        """Inside a panel."""
        return self.px(18)

    def corner(self, right: bool) -> Box:
        """Return the upper left or upper right panel."""
        wide = round(self.px(330) * min(self.text_scale, 1.15))
        high = 3 * self.pad + self.big + 3 * self.read + 2 * self.px(18)
        x = self.width - self.margin - wide if right else self.margin
        return Box(x, self.margin, wide, high)

    def top_middle(self) -> Box:
        """Return the room between the corner panels; its height is for the caller to choose."""
        left, right = self.corner(False), self.corner(True)
        gap = self.px(14)
        return Box(left.right + gap, self.margin, right.x - left.right - 2 * gap, left.h)

    def card(self, high: int | None = None) -> Box:
        """Return the card of the states without running, in the upper half: legs stay free.

        Args:
            high: Its height in pixels; None, or more than there is room for: all of the room.
        """
        wide = min(self.width - 2 * self.margin, self.px(1120))
        room = self.height // 2 - self.margin
        return Box((self.width - wide) // 2, self.margin, wide, min(high or room, room))

    def strip(self, belt_y: float | None) -> Box:
        """Return the strip of the last landings.

        Args:
            belt_y: The belt's lowest point on the screen, pixels; None: not known.

        Returns:
            A full-width strip at the bottom, below the belt; under the top panels when the belt
            runs so low that a strip there would cover the feet.
        """
        low, high = self.px(66), self.px(104)
        if belt_y is None:
            return Box(0, self.height - low, self.width, low)
        room = self.height - round(belt_y) - self.px(20)
        if room < self.px(50):
            return Box(0, self.corner(False).bottom + self.px(8), self.width, low)
        step = self.px(8)  # a belt line that is still being learned must not make it tremble
        return Box(0, self.height - (h := max(min(room, high) // step * step, 1)), self.width, h)
