"""The one place where a sound device's samples are mapped onto the session's clock.

A device counts samples by its own quartz (some 100 ppm off) and tells, block by block, when a
sample will leave the loudspeaker. What it tells is noisy: the callback wakes late, PortAudio's
stream time is wall-clock time on Linux and may jump, and the first blocks only fill the buffer.
So: medians over a second each, a straight line through the medians, single outliers dropped, and
a lasting jump (the device stalled, or the buffer was re-filled) taken over once enough
observations in a row agree on it.

Pure: no device, no thread, no clock is read here.
"""

from __future__ import annotations

from collections import deque
from statistics import median

import numpy as np

_BUCKET_S = 1.0
_BUCKETS = 60  # the line's memory: a minute
_LEVEL_BUCKETS = 5  # what the line's height is taken from
_LINE_BUCKETS = 10  # fewer give no slope yet
_SLOPE_MAX = 500e-6  # beyond it no quartz drifts
_AGREE = 5  # observations in a row that make a jump
_LOST = 50  # observations in a row off the line, agreeing or not, that end its credit


class DeviceClock:
    """Maps samples of one stream to session time. Used by one thread."""

    def __init__(self, sample_rate_hz: int, origin_s: float, jump_s: float = 0.004) -> None:
        """Begin with a guess.

        Args:
            sample_rate_hz: Nominal samples per second.
            origin_s: When sample 0 is thought to sound, session clock, until observed.
            jump_s: How far off the line an observation must be to count as an outlier.
        """
        self.jumps = 0
        """Lasting jumps taken over since the first observation."""
        self.jumped_s = 0.0
        """How much later than before them samples sound, for all jumps together."""
        self._rate_hz = sample_rate_hz
        self._jump_s = jump_s
        self._offset_s = origin_s  # of the line, at `_ref`
        self._ref = 0
        self._slope = 0.0  # seconds of offset per second of samples
        self._buckets: deque[tuple[int, float]] = deque(maxlen=_BUCKETS)
        self._open: list[tuple[int, float]] = []
        self._off_line: list[tuple[int, float]] = []

    @property
    def settled(self) -> bool:
        """Whether several observations agree, and none since contradicts them."""
        return bool(self._buckets or len(self._open) >= 2 * _AGREE) and not self._off_line

    @property
    def drift(self) -> float:
        """How much slower than nominal the device runs, as a share (1e-4 is 100 ppm)."""
        return self._slope

    def at(self, sample: int) -> float:
        """Return when `sample` sounds, session seconds."""
        return sample / self._rate_hz + self._line(sample)

    def sample_at(self, t_s: float) -> float:
        """Return which sample sounds at session time `t_s`, with its fraction."""
        own_s = t_s - self._offset_s + self._slope * self._ref / self._rate_hz
        return own_s * self._rate_hz / (1.0 + self._slope)

    def observe(self, sample: int, t_s: float) -> None:
        """Learn that `sample` is told to sound at session time `t_s`; samples only rise."""
        seen = (sample, t_s - sample / self._rate_hz)
        if (self._open or self._buckets) and abs(seen[1] - self._line(sample)) > self._jump_s:
            self._off_line.append(seen)
            last = [offset_s for _, offset_s in self._off_line[-_AGREE:]]
            agreed = len(last) == _AGREE and max(last) - min(last) <= self._jump_s
            if agreed or len(self._off_line) >= _LOST:
                self._jump_to(self._off_line[-_AGREE:] if agreed else self._off_line)
            return
        self._off_line.clear()
        self._open.append(seen)
        if sample - self._open[0][0] >= _BUCKET_S * self._rate_hz:
            self._close_bucket()
        elif not self._buckets:
            self._level([_middle(self._open)])

    def _line(self, sample: int) -> float:
        return self._offset_s + self._slope * (sample - self._ref) / self._rate_hz

    def _jump_to(self, seen: list[tuple[int, float]]) -> None:
        self.jumps += 1
        sample = seen[-1][0]
        before_s = self._line(sample)
        self._buckets.clear()
        self._open = list(seen)
        self._off_line = []
        self._level([_middle(seen)])  # the slope stays: the quartz is the same
        self.jumped_s += self._line(sample) - before_s

    def _close_bucket(self) -> None:
        self._buckets.append(_middle(self._open))
        self._open = []
        if len(self._buckets) >= _LINE_BUCKETS:
            self._slope = self._steepness()
        self._level(list(self._buckets)[-_LEVEL_BUCKETS:])

    def _steepness(self) -> float:
        """Return the median slope over all pairs of buckets (Theil and Sen's estimate)."""
        samples, offsets_s = np.array(self._buckets, dtype=float).T
        i, j = np.triu_indices(samples.size, 1)
        slopes = (offsets_s[j] - offsets_s[i]) * self._rate_hz / (samples[j] - samples[i])
        return float(np.clip(np.median(slopes), -_SLOPE_MAX, _SLOPE_MAX))

    def _level(self, middles: list[tuple[int, float]]) -> None:
        ref = middles[-1][0]
        self._offset_s = median(
            offset_s - self._slope * (sample - ref) / self._rate_hz for sample, offset_s in middles
        )
        self._ref = ref


def _middle(seen: list[tuple[int, float]]) -> tuple[int, float]:
    return (seen[0][0] + seen[-1][0]) // 2, median(offset_s for _, offset_s in seen)
