"""The rhythm: the step rate now, its target, the beat's pulse, early or late."""

from __future__ import annotations

from collections.abc import Hashable
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from station.coach.scene import Rhythm
from station.show import shapes
from station.show.kept import KeptPanel
from station.show.layout import Box, Layout
from station.show.overlay import Overlay
from station.show.palette import BEAT, GREEN, MUTED, WHITE
from station.show.text import TextBook
from station.show.wording import Wording

Image = NDArray[np.uint8]
Pace = Literal["faster", "slower", "on_target"]
Timing = Literal["early", "late", "on_the_beat"]

RATE_TOLERANCE = 0.02
"""Share of the target: a little over the smallest change of tempo that is noticed, 1.5 %
(Drake & Botte 1993)."""
BEAT_TOLERANCE = 0.10
"""Share of a step at the beat's rate that counts as on the beat; a small steady lead is normal."""
FLASH = 0.22
"""Share of a step at the beat's rate for which the pulse stays filled."""
NO_RATE = "\u2013"
_PULSE_PX = 44  # the full disc's radius
_CLOSING = 48  # steps in which the ring closes: more than a screen shows of it
_HALO_PX = 3


def pace(rhythm: Rhythm) -> Pace | None:
    """Return what the step rate should do, or None without a rate or target."""
    rate, target = rhythm.step_rate_spm, rhythm.target_spm
    if rate is None or not target:
        return None
    if abs(rate - target) <= RATE_TOLERANCE * target:
        return "on_target"
    return "faster" if rate < target else "slower"


def timing(rhythm: Rhythm) -> Timing | None:
    """Return how the feet stand to the beat, or None without a beat."""
    share = rhythm.offset_share
    if share is None:
        return None
    if abs(share) <= BEAT_TOLERANCE:
        return "on_the_beat"
    return "early" if share < 0.0 else "late"


def rider(rhythm: Rhythm) -> float:
    """Return where the feet ride on the timing scale: -1 early end, 0 on the beat, +1 late end."""
    share = rhythm.offset_share
    return 0.0 if share is None else min(max(share / 0.35, -1.0), 1.0)


def pulse_place(layout: Layout) -> tuple[int, int]:
    """Return the pulse's centre on the screen, pixels."""
    box = layout.corner(right=False)
    y = box.y + layout.px(26) + layout.big // 2
    return box.right - layout.pad - layout.px(_PULSE_PX + 2), y


class RhythmPanel:
    """Paints the top of the left wing. Used by one thread."""

    def __init__(self, layout: Layout, text: TextBook, words: Wording) -> None:
        """Keep the tools."""
        self._layout = layout
        self._text = text
        self._words = words
        self._box = layout.corner(right=False)
        self._kept = KeptPanel()
        self._pulses: dict[int, Overlay] = {}

    @staticmethod
    def key(rhythm: Rhythm) -> Hashable:
        """Return all that the panel's look depends on, but for the pulse."""
        rate, target = rhythm.step_rate_spm, rhythm.target_spm
        return (
            None if rate is None else round(rate), None if target is None else round(target),
            pace(rhythm), timing(rhythm), round(rider(rhythm) * 24.0),
        )  # fmt: skip

    def paint(self, screen: Image, rhythm: Rhythm) -> int:
        """Paint the panel into the screen; return the first row below it."""
        box = self._box

        def content(image: Image, own: Box) -> None:
            self._content(image, own, rhythm)

        self._kept.lay(screen, box, self.key(rhythm), content)
        self._pulse(screen, rhythm)
        return box.bottom

    def pulse(self, screen: Image, rhythm: Rhythm) -> Box | None:
        """Paint the pulse alone anew into a screen that the panel was painted into.

        Returns:
            What has changed; None: the panel has not been painted yet.
        """
        spot = self._spot
        if not self._kept.clear(screen, spot):
            return None
        self._pulse(screen, rhythm)
        return spot

    @property
    def _spot(self) -> Box:
        """What the pulse may touch."""
        x, y = pulse_place(self._layout)
        half = self._layout.px(_PULSE_PX) + _HALO_PX + 1
        return Box(x - half, y - half, 2 * half + 1, 2 * half + 1)

    def _content(self, screen: Image, box: Box, rhythm: Rhythm) -> None:
        lay, word = self._layout, self._words.label
        left, room = box.x + lay.pad, box.w - 2 * lay.pad
        line = box.y + lay.px(26) + lay.big
        if rhythm.step_rate_spm is None:
            self._text.draw(screen, NO_RATE, (left, line), lay.big, MUTED)
        else:
            self._text.draw(screen, f"{rhythm.step_rate_spm:.0f}", (left, line), lay.big)
        line += lay.px(19) + lay.read
        if rhythm.step_rate_spm is None:
            for number, part in enumerate(self._text.wrap(word("no_rate"), lay.read, room)[:2]):
                base = line + number * (lay.px(19) + lay.read)
                self._text.draw(screen, part, (left, base), lay.read, MUTED)
            if self._text.width(word("no_rate"), lay.read) > room:
                line += lay.px(19) + lay.read  # its second line stands where the target would
        else:
            self._text.draw(screen, word("steps_per_minute"), (left, line), lay.read, MUTED)
        line += lay.px(19) + lay.read
        self._target(screen, rhythm, left, line, room)
        line += lay.px(19) + lay.read
        self._timing(screen, rhythm, left, line, room)

    def _pulse(self, screen: Image, rhythm: Rhythm) -> None:
        """Paint the beat: a ring closes on a core and becomes a full disc on the beat."""
        age, period = rhythm.beat_age_s, rhythm.beat_period_s
        if age is None or not period or age < 0.0:
            return
        phase = (age / period) % 1.0
        flash = FLASH * (rhythm.step_period_s or period) / period
        closing = -1 if phase < flash else int((phase - flash) / (1.0 - flash) * _CLOSING)
        pulse = self._pulses.get(closing)
        if pulse is None:  # each is drawn once
            pulse = self._pulses[closing] = Overlay()
            spot = self._spot

            def draw(image: Image) -> None:
                self._draw_pulse(image, spot.w // 2, closing)

            pulse.draw(spot, draw)
        pulse.lay(screen)

    def _draw_pulse(self, image: Image, middle: int, closing: int) -> None:
        """Draw the full disc (-1), or the core and the ring as far as it has closed."""
        centre = (middle, middle)
        large, core = self._layout.px(_PULSE_PX), self._layout.px(13)
        if closing < 0:
            shapes.disc(image, centre, large, BEAT, _HALO_PX)
            return
        shapes.disc(image, centre, core, BEAT, 0)
        radius = large - (large - core - self._layout.px(4)) * closing / _CLOSING
        shapes.ring(image, centre, radius, BEAT, self._layout.px(5))

    def _target(self, screen: Image, rhythm: Rhythm, left: int, line: int, room: int) -> None:
        want, cap = pace(rhythm), self._layout.read
        if rhythm.target_spm is None:
            return
        text = f"{rhythm.target_spm:.0f}"
        at = (left + cap * 0.62, line - cap / 2.0)
        if want is None:
            self._text.draw(screen, f"{self._words.label('target')} {text}", (left, line), cap)
            return
        if want == "on_target":
            shapes.tick(screen, at, cap * 0.62, GREEN)
        else:
            shapes.chevrons(screen, at, cap * 0.7, want == "faster", BEAT)
        pen = left + round(cap * 1.5)
        full = f"{text} {self._words.label(want)}"
        if self._text.width(full, cap) > room - (pen - left):
            full = self._words.label(want)  # what to do goes before how far
        fitted = self._text.fit(full, cap, room - (pen - left))
        self._text.draw(screen, full, (pen, line), fitted, WHITE if want == "on_target" else BEAT)

    def _timing(self, screen: Image, rhythm: Rhythm, left: int, line: int, room: int) -> None:
        """Paint a short scale with the beat as its post, the feet as its rider, and the word."""
        how, cap = timing(rhythm), self._layout.read
        if how is None:
            return
        half = cap
        middle, y = left + half, line - cap // 2
        thick = self._layout.px(4)
        shapes.line(screen, (left, y), (left + 2 * half, y), MUTED, thick, 0)
        shapes.line(screen, (middle, y - cap * 0.55), (middle, y + cap * 0.55), BEAT, thick, 0)
        shapes.disc(screen, (middle + rider(rhythm) * half, y), cap * 0.3, WHITE)
        pen = left + 2 * half + round(cap * 0.42)
        text = self._words.label(how)
        fitted = self._text.fit(text, cap, room - (pen - left))
        self._text.draw(screen, text, (pen, line), fitted)
