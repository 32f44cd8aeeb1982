"""A movement that repeats with the steps, as a few harmonics: noise of single frames goes out.

The highest minus the lowest of noisy frames is always too much; of the fitted cycle it is not.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from station.values import Floats

_PER_UNKNOWN = 1.5
"""Samples needed for each number that is fitted."""
_COVERED = 0.85
"""Samples must reach over this share of a period, else the fit says nothing of the rest."""


@dataclass(frozen=True, slots=True, eq=False)
class Cycle:
    """One period of a movement about its mean, in the unit of the samples."""

    mean: float
    """About the middle of the samples."""
    waves: Floats
    """(k,) complex: harmonic i + 1 is the real part of `waves[i] exp(2 pi i (i + 1) share)`."""

    def curve(self, shares: Floats) -> Floats:
        """Return the movement about its mean at shares (n,) of the period."""
        turns = np.outer(shares, np.arange(1, len(self.waves) + 1))
        return np.asarray((self.waves * np.exp(2j * np.pi * turns)).sum(axis=1).real)

    @property
    def lowest(self) -> float:
        """The lowest value of the cycle, mean included."""
        return self.mean + float(self.curve(_SHARES).min())

    @property
    def highest(self) -> float:
        """The highest value of the cycle, mean included."""
        return self.mean + float(self.curve(_SHARES).max())

    @property
    def travel(self) -> float:
        """Highest minus lowest, without any drift."""
        return self.highest - self.lowest

    @property
    def first_amplitude(self) -> float:
        """Half the travel of the first harmonic alone."""
        return float(abs(self.waves[0]))

    @property
    def first_peak(self) -> float:
        """Share of the period after its begin at which the first harmonic is highest, -0.5 to 0.5.

        The fit's period begins at `begin_s`.
        """
        return float(-np.angle(self.waves[0]) / (2.0 * math.pi))


_SHARES: Floats = np.arange(64) / 64.0


def fit_cycle(
    t_s: Floats, y: Floats, period_s: float, begin_s: float, harmonics: int
) -> Cycle | None:
    """Fit a repeating movement with an even drift to samples of one or more periods.

    Args:
        t_s: (n,) times.
        y: (n,) samples; NaN is left out.
        period_s: Of the movement.
        begin_s: Where a period begins: shares count from here.
        harmonics: How many.

    Returns:
        None where the samples are too few or leave too much of a period out.
    """
    seen = np.isfinite(y)
    t, z = t_s[seen], y[seen]
    unknown = 2 * harmonics + 2
    if len(t) < _PER_UNKNOWN * unknown or not period_s > 0.0:
        return None
    gap_s = float(np.diff(t).max())
    if t[-1] - t[0] + gap_s < _COVERED * period_s or gap_s > 0.5 * period_s / harmonics:
        return None
    turns = 2.0 * np.pi * np.outer((t - begin_s) / period_s, np.arange(1, harmonics + 1))
    drift = (t - t.mean()) / period_s
    table = np.hstack([np.ones((len(t), 1)), drift[:, None], np.cos(turns), np.sin(turns)])
    numbers = np.linalg.lstsq(table, z, rcond=None)[0]
    cosines, sines = numbers[2 : 2 + harmonics], numbers[2 + harmonics :]
    return Cycle(float(numbers[0]), cosines - 1j * sines)
