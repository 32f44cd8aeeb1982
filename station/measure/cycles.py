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

    def curve(self) -> Floats:
        """Return the movement about its mean over one period, (64,) evenly spaced."""
        return np.asarray((_TURNS[:, : len(self.waves)] @ self.waves).real)

    @property
    def lowest(self) -> float:
        """The lowest value of the cycle, mean included."""
        return self.mean + float(self.curve().min())

    @property
    def highest(self) -> float:
        """The highest value of the cycle, mean included."""
        return self.mean + float(self.curve().max())

    @property
    def travel(self) -> float:
        """Highest minus lowest, without any drift."""
        return float(np.ptp(self.curve()))

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


_MOST_WAVES = 4
_TURNS = np.exp(2j * np.pi * np.outer(np.arange(64) / 64.0, np.arange(1, _MOST_WAVES + 1)))


def fit_cycle(
    t_s: Floats, y: Floats, period_s: float, begin_s: float, harmonics: int
) -> Cycle | None:
    """Fit a repeating movement with an even drift to samples of one or more periods.

    Args:
        t_s: (n,) times.
        y: (n,) samples; NaN is left out.
        period_s: Of the movement.
        begin_s: Where a period begins: shares count from here.
        harmonics: How many, at most 4.

    Returns:
        None where the samples are too few or leave too much of a period out.
    """
    return fit_cycles(t_s, y[:, None], period_s, begin_s, harmonics)[0]


def fit_cycles(
    t_s: Floats, ys: Floats, period_s: float, begin_s: float, harmonics: int
) -> list[Cycle | None]:
    """Fit several movements (n, k) of one period at once; arguments as in `fit_cycle`.

    Returns:
        k cycles, None for each that cannot be told.
    """
    known = np.isfinite(ys)
    cycles: list[Cycle | None] = [None] * ys.shape[1]
    whole = [i for i in range(ys.shape[1]) if known[:, i].all()]
    groups = [whole] if whole else []
    groups += [[i] for i in range(ys.shape[1]) if i not in whole]
    for group in groups:  # mostly one: a point is seen in every frame or not at all
        seen = known[:, group[0]]
        fitted = _fit(t_s[seen], ys[seen][:, group], period_s, begin_s, harmonics)
        if fitted is not None:
            for i, numbers in zip(group, fitted.T, strict=True):
                cosines, sines = numbers[2 : 2 + harmonics], numbers[2 + harmonics :]
                cycles[i] = Cycle(float(numbers[0]), cosines - 1j * sines)
    return cycles


def _fit(t: Floats, z: Floats, period_s: float, begin_s: float, harmonics: int) -> Floats | None:
    """Return (2 + 2 harmonics, k) mean, drift, cosines and sines of (n, k) samples, or None."""
    if len(t) < _PER_UNKNOWN * (2 * harmonics + 2) or not period_s > 0.0:
        return None
    gap_s = float(np.diff(t).max())
    if t[-1] - t[0] + gap_s < _COVERED * period_s or gap_s > 0.5 * period_s / harmonics:
        return None
    turns = 2.0 * np.pi * np.outer((t - begin_s) / period_s, np.arange(1, harmonics + 1))
    drift = (t - t.mean()) / period_s
    table = np.hstack([np.ones((len(t), 1)), drift[:, None], np.cos(turns), np.sin(turns)])
    try:
        return np.asarray(np.linalg.solve(table.T @ table, table.T @ z))
    except np.linalg.LinAlgError:  # times that leave a harmonic open
        return None
