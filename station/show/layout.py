"""Where things stand on the screen, in pixels, for any screen size.

The runner is on a lit stage. At both sides stand dark wings with the numbers and each foot's last
landings; under the belt lies a dark floor with the verdict's word and the one sentence. Nothing
but the guides is ever painted on the stage while somebody runs. On an upright screen the wings'
numbers lie above the stage and the last landings under the belt.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

from station.show.legibility import READ_CAP

LANDSCAPE = (1280.0, 720.0)
PORTRAIT = (720.0, 1280.0)
UPRIGHT = 1.1
"""A screen less wide than so many times its height is laid out upright."""
_LEADING = 1.5  # from baseline to baseline, capital heights


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


@dataclass(frozen=True)  # no slots: what is worked out once is kept, each picture asks 200 times
class Layout:
    """All sizes, from the screen's width and height and the text's enlargement."""

    width: int
    height: int
    text_scale: float = 1.0
    sentence_rows: int = 1
    """Lines that the longest sentence needs while running."""

    @cached_property
    def upright(self) -> bool:
        """Whether the screen stands upright."""
        return self.width < UPRIGHT * self.height

    @cached_property
    def unit(self) -> float:
        """Pixels per pixel of the 1280 x 720 design (of the 720 x 1280 one, upright)."""
        wide, high = PORTRAIT if self.upright else LANDSCAPE
        return min(self.width / wide, self.height / high)

    def px(self, design_px: float) -> int:
        """Return a design length in screen pixels."""
        return max(1, round(design_px * self.unit))

    def cap(self, design_px: float) -> int:
        """Return a capital height in screen pixels, enlarged for the viewing distance."""
        return max(6, round(design_px * self.unit * self.text_scale))

    # --- sizes of text --------------------------------------------------------------------------

    @cached_property
    def note(self) -> int:
        """Capital height of notices: for the coach, who stands nearer."""
        return self.cap(20)

    @cached_property
    def read(self) -> int:
        """Capital height of the smallest text for the runner, never a part of a pixel less."""
        return max(6, math.ceil(READ_CAP * self.unit * self.text_scale - 1e-6))

    @cached_property
    def say(self) -> int:
        """Capital height of the sentence while running."""
        return self.cap(36)

    @cached_property
    def loud(self) -> int:
        """Capital height of words that must not be missed."""
        return self.cap(44)

    @cached_property
    def big(self) -> int:
        """Capital height of the big numbers."""
        return self.cap(70)

    @cached_property
    def margin(self) -> int:
        """Between the screen's edge and what stands nearest to it."""
        return self.px(14)

    @cached_property
    def pad(self) -> int:
        """Inside a wing or a card."""
        return self.px(17)

    @cached_property
    def gap(self) -> int:
        """Between two things in a column."""
        return self.px(8)

    # --- places ---------------------------------------------------------------------------------

    @cached_property
    def wing(self) -> int:
        """A wing's width; upright: half the screen's."""
        if self.upright:
            return self.width // 2
        return round(self.px(338) * self.text_scale)

    @cached_property
    def upper(self) -> int:
        """Height of the numbers at the top of a wing, and the space below them."""
        return self.px(26 + 3 * 19 + 30) + self.big + 3 * self.read

    @cached_property
    def deck(self) -> int:
        """How much of the picture is seen below the belt's line."""
        return self.px(16)

    @cached_property
    def trail_high(self) -> int:
        """Height of the last landings under the belt, upright."""
        return self.px(232)

    @cached_property
    def belt_y(self) -> int:
        """Row where the belt's line is to lie."""
        below = self.deck + self.gap + self.loud + self.px(12) + self._sentence_high
        if self.upright:
            below += self.trail_high + self.gap
        return self.height - below

    @cached_property
    def _sentence_high(self) -> int:
        return round(self.say * (_LEADING * (self.sentence_rows - 1) + 1.0)) + self.px(24)

    @cached_property
    def stage(self) -> Box:
        """Return where the picture is seen."""
        low = self.belt_y + self.deck
        if self.upright:
            return Box(0, self.upper, self.width, low - self.upper)
        return Box(self.wing, 0, self.width - 2 * self.wing, low)

    @cached_property
    def lit(self) -> Box:
        """Return the stage, and the few rows above the floor that a landing's mark needs."""
        stage = self.stage
        return Box(stage.x, stage.y, stage.w, stage.h + self.gap)

    @cached_property
    def word_row(self) -> Box:
        """Return the floor's uppermost rows, where a landing's word stands."""
        top = self.floor().y
        return Box(0, top, self.width, self.word_line + self.px(12) - top)

    def corner(self, right: bool) -> Box:
        """Return the numbers' place at the top of a wing: rhythm left, drill right."""
        return Box(self.width - self.wing if right else 0, 0, self.wing, self.upper)

    def column(self, right: bool) -> Box:
        """Return what a wing has below its numbers: last landings, and the coach's things.

        Upright it lies under the belt.
        """
        x = self.width - self.wing if right else 0
        if self.upright:
            return Box(x, self.word_line + self.px(20), self.wing, self.trail_high)
        return Box(x, self.upper, self.wing, self.belt_y + self.deck - self.upper)

    @cached_property
    def card_low(self) -> int:
        """Where upright a floor that is all one thing ends and the coach's things begin."""
        floor = self.floor()
        return floor.y + round(floor.h * 0.4)

    @cached_property
    def word_line(self) -> int:
        """Baseline of the verdict's word, under the belt."""
        return self.belt_y + self.deck + self.gap + self.loud

    def sentence(self) -> Box:
        """Return the place of the one sentence: the floor's lowest rows."""
        high = self._sentence_high
        return Box(self.margin, self.height - high, self.width - 2 * self.margin, high)

    def floor(self, crowded: bool = False) -> Box:
        """Return all of the floor under the belt.

        Args:
            crowded: The coach's things are shown; upright they have its lower part (`card_low`).
        """
        top = self.belt_y + self.deck + self.gap
        low = self.card_low if crowded and self.upright else self.height
        return Box(0, top, self.width, low - top)
