"""Text on the screen: each string is rendered once, kept, and laid into the picture by OpenCV.

Sizes are the height of a capital letter in pixels, because legibility is stated in that height.
The font is shipped beside this file (`fonts/`, SIL Open Font License 1.1), so every machine shows
the same; no display is needed.
"""

from __future__ import annotations

import math
import os
from collections import OrderedDict
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from station.show.palette import INK, WHITE, Colour

os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")
import pygame
import pygame.freetype

Align = Literal["left", "centre", "right"]
Image = NDArray[np.uint8]

_KEPT = 128  # strings kept; more than one screen's worth of numbers, about 6 MB at most
_FONT = Path(__file__).parent / "fonts" / "Manrope-Bold.ttf"
_MEASURED = 60  # capital height at which letters are measured
_LEADING = 1.5  # from line to line, capital heights
_ELLIPSIS = "\u2026"


@dataclass(frozen=True, slots=True, eq=False)
class _Rendered:
    """One string, ready to be laid into a picture."""

    ink: Image
    """(h, w, 3), the colour times its opacity."""
    keep: Image
    """(h, w, 3), 255 minus the opacity: what stays of the picture."""
    left: int
    """From the pen to the ink's left edge."""
    rise: int
    """From the baseline up to the ink's top edge."""


class TextBook:
    """Renders and keeps text. Used by one thread."""

    def __init__(self) -> None:
        """Open the font."""
        pygame.freetype.init()
        self._font = pygame.freetype.Font(str(_FONT))
        self._em_per_cap = 400.0 / self._font.get_rect("H", size=400).height
        self._kept: OrderedDict[tuple[str, int, Colour, int], _Rendered] = OrderedDict()
        self._advances: dict[str, float] = {}
        self._spans: dict[str, float] = {}  # of whole texts, in capital heights
        self._lines: dict[tuple[str, int, int], tuple[str, ...]] = {}

    def width(self, text: str, cap: int) -> int:
        """Return how wide `text` is at capital height `cap`, pixels, its pens' space included."""
        # Summed letter by letter: to lay a whole text out only to measure it takes far longer.
        span = self._spans.get(text)
        if span is None:
            if len(self._spans) > _KEPT:
                self._spans.clear()
            span = self._spans[text] = sum(map(self._advance, text))
        return math.ceil(cap * span)

    def _advance(self, letter: str) -> float:
        """Return how far a letter moves the pen on, in capital heights."""
        found = self._advances.get(letter)
        if found is None:
            metrics = self._font.get_metrics(letter, size=self._em(_MEASURED))[0]
            found = self._advances[letter] = 0.6 if metrics is None else metrics[4] / _MEASURED
        return found

    def fit(self, text: str, cap: int, room: int, smallest: int = 12) -> int:
        """Return the capital height, at most `cap`, at which `text` is at most `room` wide."""
        wide = self.width(text, cap)
        if wide <= room:
            return cap
        return max(smallest, cap * room // wide)

    def shorten(self, text: str, cap: int, room: int) -> str:
        """Return `text`, cut with an ellipsis where it is wider than `room` pixels."""
        if self.width(text, cap) <= room:
            return text
        while text and self.width(text + _ELLIPSIS, cap) > room:
            text = text[:-1]
        return text.rstrip() + _ELLIPSIS

    def wrap(self, text: str, cap: int, room: int) -> tuple[str, ...]:
        """Return `text` as lines of at most `room` pixels, of about even length."""
        key = (text, cap, room)
        if key not in self._lines:
            if len(self._lines) > _KEPT:
                self._lines.clear()
            lines = self._greedy(text, cap, room)
            # Narrow the room while the count of lines stays: two even lines read better than a
            # full one and a stray word.
            narrow = room
            while len(lines) > 1 and narrow > room // 2:
                narrow -= max(8, room // 40)
                tighter = self._greedy(text, cap, narrow)
                if len(tighter) > len(lines) or any(self.width(t, cap) > narrow for t in tighter):
                    break
                lines = tighter
            self._lines[key] = lines
        return self._lines[key]

    def draw(
        self,
        screen: Image,
        text: str,
        at: tuple[int, int],
        cap: int,
        colour: Colour = WHITE,
        align: Align = "left",
        halo: int = 0,
    ) -> int:
        """Lay one line of text into the screen.

        Args:
            screen: (H, W, 3), changed in place.
            text: One line; an empty one paints nothing.
            at: Pen position on the baseline: its left end, middle or right end by `align`.
            cap: Height of a capital letter, pixels.
            colour: BGR.
            align: What `at` is the place of.
            halo: Width of a dark rim, pixels: for text that lies on the picture itself.

        Returns:
            The text's width in pixels.
        """
        if not text.strip():
            return 0
        rendered = self._rendered(text, cap, colour, halo)
        wide = rendered.ink.shape[1] - 2 * halo
        x = at[0] + (0 if align != "left" else rendered.left)
        if align != "left":
            x -= wide // 2 if align == "centre" else wide
        _lay(screen, rendered, x - halo, at[1] - rendered.rise - halo)
        return wide

    def below(self, text: str, top: int, cap: int, room: int) -> int:
        """Return the row below a text laid as `column` does it from row `top` on, pixels."""
        return top + len(self.wrap(text, cap, room)) * round(_LEADING * cap)

    def column(
        self,
        screen: Image,
        text: str,
        at: tuple[int, int],
        cap: int,
        room: int,
        colour: Colour = WHITE,
        align: Align = "left",
        smallest: int | None = None,
    ) -> int:
        """Lay a text into the screen as lines of at most `room` pixels, one under the other.

        Args:
            screen: (H, W, 3), changed in place.
            text: Any length.
            at: Where its lines begin, have their middle or end by `align`, and its first row.
            cap: Height of a capital letter, pixels.
            room: Width for it.
            colour: BGR.
            align: As of `draw`.
            smallest: A word wider than the room is written smaller, down to this; None: it is not.

        Returns:
            The row where the next line would begin.
        """
        x, top = at
        for line in self.wrap(text, cap, room):
            fitted = cap if smallest is None else self.fit(line, cap, room, smallest)
            self.draw(screen, line, (x, top + cap), fitted, colour, align)
            top += round(_LEADING * cap)
        return top

    def _em(self, cap: int) -> float:
        return cap * self._em_per_cap

    def _greedy(self, text: str, cap: int, room: int) -> tuple[str, ...]:
        lines: list[str] = []
        words: list[str] = []
        for part in text.split():
            if part == "-" and words:  # a dash stays with its word: no line begins with one
                words[-1] += " -"
            else:
                words.append(part)
        for word in words:
            if lines and self.width(f"{lines[-1]} {word}", cap) <= room:
                lines[-1] = f"{lines[-1]} {word}"
            else:
                lines.append(word)
        return tuple(lines)

    def _rendered(self, text: str, cap: int, colour: Colour, halo: int) -> _Rendered:
        key = (text, cap, colour, halo)
        found = self._kept.get(key)
        if found is not None:
            self._kept.move_to_end(key)
            return found
        surface, box = self._font.render(text, fgcolor=(255, 255, 255, 255), size=self._em(cap))
        opacity = np.ascontiguousarray(pygame.surfarray.array_alpha(surface).T)
        if halo:
            opacity = np.pad(opacity, halo)
        letters = cv2.merge((opacity, opacity, opacity))
        ink = cv2.multiply(letters, np.full_like(letters, colour), scale=1.0 / 255.0)
        cover = letters
        if halo:
            round_pen = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * halo + 1, 2 * halo + 1))
            cover = cv2.dilate(letters, round_pen)
            rim = cv2.subtract(cover, letters)
            ink = cv2.add(ink, cv2.multiply(rim, np.full_like(rim, INK), scale=1.0 / 255.0))
        found = _Rendered(
            np.asarray(ink, np.uint8), np.asarray(255 - cover, np.uint8), int(box.x), int(box.y)
        )
        self._kept[key] = found
        if len(self._kept) > _KEPT:
            self._kept.popitem(last=False)
        return found


def _lay(screen: Image, text: _Rendered, x: int, y: int) -> None:
    """Blend rendered text into the screen with its top left corner at (x, y), clipped."""
    high, wide = text.ink.shape[:2]
    x0, y0 = max(x, 0), max(y, 0)
    x1, y1 = min(x + wide, screen.shape[1]), min(y + high, screen.shape[0])
    if x0 >= x1 or y0 >= y1:
        return
    part = (slice(y0 - y, y1 - y), slice(x0 - x, x1 - x))
    target = screen[y0:y1, x0:x1]
    cv2.multiply(target, text.keep[part], dst=target, scale=1.0 / 255.0)
    cv2.add(target, text.ink[part], dst=target)
