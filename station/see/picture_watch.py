"""When is a camera frozen, when is its picture dark, when does it come too slowly?

Numbers only: times and small samples of the pictures go in, time is told by whoever calls.
"""

from __future__ import annotations

import math
from collections import deque

import numpy as np
from numpy.typing import NDArray

Sample = NDArray[np.uint8]

SAMPLE_EVERY_PX = 8
FROZEN_AFTER_S = 1.5
"""A sensor's noise makes no two pictures alike; a driver may repeat one or two."""
STREAM_FROZEN_S = 6.0
"""Of a network stream: where nothing moves, its encoder repeats a picture up to the next whole
one, mostly for a second or two."""
FLAT_SPREAD = 2.0
"""Grey levels, standard deviation: a covered lens may give the same black again and again, and is
dark, not frozen."""
DARK, DARK_OVER = 0.05, 0.08
"""Mean grey level, 0 to 1: a picture under the first is dark, until it is over the second."""
DARK_AFTER_S = 2.0
SLOW, SLOW_OVER = 0.7, 0.8
"""Share of the pictures a second that were asked for; auto exposure in dim light halves them."""
SLOW_SPAN_S = 4.0


def sample_of(image: NDArray[np.uint8]) -> Sample:
    """Return every eighth point each way of a picture's green, (height/8, width/8), a copy."""
    return image[::SAMPLE_EVERY_PX, ::SAMPLE_EVERY_PX, 1].copy()


class FrozenWatch:
    """Tells whether the same picture comes again and again. Used by one thread."""

    def __init__(self, after_s: float = FROZEN_AFTER_S) -> None:
        """Begin without a picture.

        Args:
            after_s: How long it must stand still.
        """
        self._after_s = after_s
        self._last: Sample | None = None
        self._same_since_s: float | None = None
        self._frozen = False

    @property
    def frozen(self) -> bool:
        """Whether the picture stands still."""
        return self._frozen

    def see(self, t_s: float, sample: Sample) -> bool:
        """Take a picture's sample; return whether the picture stands still now.

        Args:
            t_s: When it came.
            sample: As of `sample_of`.
        """
        last, self._last = self._last, sample
        same = last is not None and last.shape == sample.shape and np.array_equal(last, sample)
        if not same or float(sample.std()) < FLAT_SPREAD:
            self._same_since_s, self._frozen = None, False
            return False
        if self._same_since_s is None:
            self._same_since_s = t_s
        self._frozen = t_s - self._same_since_s >= self._after_s
        return self._frozen


class DarkWatch:
    """Tells whether the picture is too dark to see anybody in. Used by one thread."""

    def __init__(self) -> None:
        """Begin in the light."""
        self.dark = False
        self._since_s: float | None = None

    def see(self, t_s: float, sample: Sample) -> bool:
        """Take a picture's sample; return whether it is dark now, for good two seconds."""
        level = float(sample.mean()) / 255.0
        over = level >= DARK_OVER if self.dark else level < DARK
        if not over:
            self._since_s = None
        elif self._since_s is None:
            self._since_s = t_s
        elif t_s - self._since_s >= DARK_AFTER_S:
            self.dark, self._since_s = not self.dark, None
        return self.dark


class RateWatch:
    """Tells whether pictures come far more slowly than asked. Used by one thread."""

    def __init__(self, asked_fps: float) -> None:
        """Begin without a picture.

        Args:
            asked_fps: What the bay asks the camera for.
        """
        self.asked_fps = asked_fps
        self.slow_fps: float | None = None
        """The rate, while it is too low; None: it is well, or not known."""
        self._times_s: deque[float] = deque(maxlen=max(2, math.ceil(2 * SLOW_SPAN_S * asked_fps)))

    def see(self, t_s: float) -> float | None:
        """Take the time that a picture came at; return the rate where it is too low."""
        times_s = self._times_s
        times_s.append(t_s)
        while len(times_s) > 2 and times_s[0] < t_s - SLOW_SPAN_S:
            times_s.popleft()
        span_s = t_s - times_s[0]
        if span_s < 0.75 * SLOW_SPAN_S:
            return self.slow_fps
        fps = (len(times_s) - 1) / span_s
        least = (SLOW if self.slow_fps is None else SLOW_OVER) * self.asked_fps
        self.slow_fps = fps if fps < least else None
        return self.slow_fps

    def forget(self) -> None:
        """Begin anew: there was a gap that is told as another fault."""
        self._times_s.clear()
