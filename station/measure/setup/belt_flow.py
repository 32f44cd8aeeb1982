"""The belt's own speed in the picture: how fast its pattern moves along the belt line.

A pose model's feet may slide on the shoe by centimetres; the belt does not. Where it has marks (a
seam, a print, a strip of tape), its pattern along the line is followed from picture to picture, and
with the speed that the belt is set to it gives the scale at the runner's plane.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from station.measure.setup.lines import Point, grey_of, sampled
from station.values import Facing, Floats

_BAND_PX = (-6.0, -3.0, 0.0, 3.0, 6.0)
"""Beside the line: the belt's middle appears a few pixels broad."""
_LAGS_S = 0.12
"""Pictures up to so far apart are compared: a longer way is measured more exactly, but a pattern
that repeats is then taken for itself one period on."""
_KEPT = 48
_SLOWEST_PX_S = 60.0
_GRID = 4000
_FEWEST = 60
_PEAK = 6.0
"""The peak stands out from the rest by so many standard deviations, or there is no pattern."""
_LEAST_CORRELATION = 0.05


@dataclass(frozen=True, slots=True)
class Flow:
    """The belt's speed as its pattern shows it."""

    px_s: float
    """Image pixels per second, backwards."""
    clear: float
    """How far the peak stands out, in standard deviations of the rest."""


class BeltFlow:
    """Adds up how well each speed explains the pattern's way. Used by one thread."""

    def __init__(self, line: tuple[Point, Point], faces: Facing) -> None:
        """Follow the belt along this line.

        Args:
            line: Two points on the belt's surface at the runner's plane, image pixels.
            faces: The runner's way in the picture; the belt runs against it.
        """
        (x0, y0), (x1, y1) = sorted(line)
        length = math.dist((x0, y0), (x1, y1))
        along = np.array([(x1 - x0) / length, (y1 - y0) / length])
        beside = np.array([-along[1], along[0]])
        s = np.arange(0.0, length, 1.0)
        u = np.array(_BAND_PX)
        self._places = np.array([x0, y0]) + s[:, None, None] * along + u[None, :, None] * beside
        self._low = int(self._places[..., 1].min()) - 2
        self._high = int(self._places[..., 1].max()) + 3
        self._way = -1.0 if faces == "right" else 1.0
        self._n = len(s)
        # Marks come and go at the line's ends, and an end stands still.
        self._taper = np.hanning(self._n)
        self._speeds = np.linspace(_SLOWEST_PX_S, 0.5 * self._n / _LAGS_S * 2.0, _GRID)
        self._sum = np.zeros(_GRID)
        self._weight = np.zeros(_GRID)
        self._pairs = 0
        self._profiles: deque[tuple[float, Floats]] = deque(maxlen=_KEPT)
        self._mean = np.zeros(self._n)
        self._count = np.zeros(self._n)

    def see(
        self, image: NDArray[np.uint8], t_s: float, hidden: Sequence[tuple[float, float]] = ()
    ) -> None:
        """Take one picture.

        Args:
            image: (height, width, 3) BGR; only the rows about the belt line are looked at.
            t_s: When it was exposed.
            hidden: From where to where, image x, something else covers the belt: feet roll and
                swing, and their shadows with them.
        """
        low = max(0, min(self._low, image.shape[0] - 2))
        places = self._places - (0.0, low)
        profile = sampled(grey_of(image[low : self._high]), places).mean(axis=1)
        seen = np.ones(self._n, bool)
        x = self._places[:, len(_BAND_PX) // 2, 0]
        for left, right in hidden:
            seen &= (x < left) | (x > right)
        # What stands still (a rail, a reflection) is taken out, what moves stays.
        self._count += seen
        gain = np.where(seen, np.maximum(1.0 / _KEPT, 1.0 / np.maximum(self._count, 1)), 0.0)
        self._mean += gain * (profile - self._mean)
        moving = profile - self._mean
        if seen.sum() < 0.3 * self._n:
            return
        moving = np.where(seen, moving - moving[seen].mean(), 0.0)
        if len(self._profiles) >= 8:
            for before_s, before in self._profiles:
                if 0.0 < t_s - before_s <= _LAGS_S:
                    self._compare(before, moving, t_s - before_s)
        self._profiles.append((t_s, moving))

    def _compare(self, before: Floats, now: Floats, lag_s: float) -> None:
        size = 2 * self._n
        before = before * self._taper
        product = np.fft.irfft(np.fft.rfft(now, size) * np.conj(np.fft.rfft(before, size)), size)
        energy = math.sqrt(float(before @ before) * float(now @ now))
        if energy <= 0.0:
            return
        shift = self._way * self._speeds * lag_s
        usable = np.abs(shift) < 0.5 * self._n
        at = shift[usable]
        low = np.floor(at).astype(int)
        part = at - low
        value = product[low % size] * (1.0 - part) + product[(low + 1) % size] * part
        self._sum[usable] += lag_s**2 * value / energy
        self._weight[usable] += lag_s**2
        self._pairs += 1

    @property
    def flow(self) -> Flow | None:
        """The belt's speed; None: too little seen, or the belt shows no pattern."""
        if self._pairs < _FEWEST:
            return None
        seen = self._weight > 0.5 * self._weight.max()
        score = np.where(seen, self._sum / np.maximum(self._weight, 1e-9), -1.0)
        top = int(score.argmax())
        if not 0 < top < _GRID - 1 or not seen[top + 1] or score[top] < _LEAST_CORRELATION:
            return None
        away = seen & (np.abs(self._speeds / self._speeds[top] - 1.0) > 0.15)
        if away.sum() < 20:
            return None
        clear = float((score[top] - score[away].mean()) / max(float(score[away].std()), 1e-9))
        if clear < _PEAK / 2.0:
            return None
        near = seen & (score > 0.8 * score[top])
        left = right = top  # the peak's own flanks
        while left > 0 and near[left - 1]:
            left -= 1
        while right < _GRID - 1 and near[right + 1]:
            right += 1
        weight = score[left : right + 1] - 0.8 * score[top]
        return Flow(float(weight @ self._speeds[left : right + 1] / weight.sum()), clear)
