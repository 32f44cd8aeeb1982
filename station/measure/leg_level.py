"""The best estimate of a landing's shank angle, given the landings of that leg before it.

One landing is read with an error of 1 to 2 deg; a runner's landings scatter about their level by
less than that. So a reading 2 deg off the level is mostly error, one 5 deg off is mostly not. What
is asked here is the landing itself, given its reading and all readings of the leg before it:

    level      m(k) = m(k-1) + w      w: a slow drift of 0.1 deg, or once in 30 landings a change
    landing    x(k) = m(k) + v        v: scatter t, not known, or once in 30 landings a lapse
    reading    y(k) = x(k) + e        e: the error that the measurement states for this landing

This is a state-space model with a noise of two parts, whose filter is worked out by numbers on a
grid of levels and scatters (Kitagawa 1987, J. Am. Stat. Assoc. 82:1032-1063, from memory). For one
level m and one scatter t the answer is the shrunken reading m + (y - m) t^2 / (t^2 + e^2), with the
variance t^2 e^2 / (t^2 + e^2) (Efron & Morris 1973, J. Am. Stat. Assoc. 68:117-130, from memory);
the mean over all m and t, weighted by what the readings say for each, is the value, and the
variance of that mixture its squared standard error. So

- a reading is drawn towards the level only as far as the error explains its distance: beyond about
  4 deg it is taken for a change or a lapse and believed almost as read;
- how much the leg really scatters is learned: who lands well and badly in turn has a large t, and
  is judged by each reading almost alone;
- while little is known of the leg (the first landings) the value is the reading.

A value uses readings up to its own landing only, so it is out as early as the reading, never
changes, and does not depend on how frames are batched.
"""

from __future__ import annotations

import math

import numpy as np

from station.values import Floats

STEP_DEG = 0.5
MOST_DEG = 25.0
"""No level lies beyond (-8 to 20 deg are usual in single landings: common practice, no source)."""
_LEVELS: Floats = np.arange(-MOST_DEG, MOST_DEG + STEP_DEG / 2, STEP_DEG)
_SCATTERS: Floats = 0.5 * 2.0 ** np.arange(4.0)
"""0.5 to 4 deg: none of a runner's scatter lies beyond (force-plate trial: 0.6 and 0.8)."""
_DRIFT_DEG = 0.1
"""Standard deviation from landing to landing: 1.3 deg in two minutes, more than fatigue does."""
_CHANGED = 1.0 / 30.0
"""Share of landings with which another level begins (about three a minute, so that a runner who is
being taught is followed); the share of single lapses is the same."""
_CHANGE_DEG = 4.0
"""Standard deviation of such a change: levels of runners lie some degrees apart (usually 6 to 11,
few beyond -5 and 15: common practice, no source)."""
_FORGETS = 0.02
"""By how much of it what is known of the scatter fades with each landing: a memory of 50."""
_LEAST_ERROR_DEG = 0.1


def _ways() -> Floats:
    """Return how levels pass into the next ones: (to, from), each column adds up to 1."""
    apart = _LEVELS[:, None] - _LEVELS[None, :]
    change = np.exp(-0.5 * (apart / _CHANGE_DEG) ** 2)
    change /= change.sum(axis=0, keepdims=True)
    beside = 0.5 * (_DRIFT_DEG / STEP_DEG) ** 2
    near = np.abs(apart) < 0.5 * STEP_DEG
    next_to = np.abs(np.abs(apart) - STEP_DEG) < 0.5 * STEP_DEG
    drift = np.where(near, 1.0 - 2.0 * beside, np.where(next_to, beside, 0.0))
    drift /= drift.sum(axis=0, keepdims=True)
    return np.asarray((1.0 - _CHANGED) * drift + _CHANGED * change)


_WAYS: Floats = _ways()


class LegLevel:
    """What the landings of one leg say of the next. Used by one thread."""

    def __init__(self) -> None:
        """Begin with nothing known: every level and scatter alike."""
        self._weights: Floats = np.full(
            (len(_LEVELS), len(_SCATTERS)), 1.0 / (len(_LEVELS) * len(_SCATTERS))
        )

    def forget(self) -> None:
        """Forget the level, as after a gap or another belt speed; the scatter is the runner's."""
        self._weights = np.tile(self._weights.sum(axis=0) / len(_LEVELS), (len(_LEVELS), 1))

    def take(self, reading_deg: float, error_deg: float) -> tuple[float, float]:
        """Take the next reading of this leg and return the best estimate of the landing.

        Args:
            reading_deg: Shank angle as read at contact, degrees.
            error_deg: Standard error of this reading, as the measurement states it.

        Returns:
            The landing's shank angle and its standard error, degrees. A reading without a known
            error, or beyond what a leg can do, is given back as it is and teaches nothing.
        """
        if not (math.isfinite(error_deg) and abs(reading_deg) < MOST_DEG):
            return reading_deg, error_deg
        weights = _WAYS @ self._weights
        weights += _FORGETS * (weights.mean(axis=1, keepdims=True) - weights)
        noise = max(error_deg, _LEAST_ERROR_DEG) ** 2
        off = reading_deg - _LEVELS
        off2 = off * off
        spread, strayed = _SCATTERS**2 + noise, _CHANGE_DEG**2 + noise
        likely = np.exp(-0.5 * off2[:, None] / spread) * ((1.0 - _CHANGED) / np.sqrt(spread))
        lapse = np.exp(-0.5 * off2 / strayed) * (_CHANGED / math.sqrt(strayed))
        usual = weights * likely
        stray = weights.sum(axis=1) * lapse
        total = float(usual.sum() + stray.sum())
        if not total > 0.0:
            return reading_deg, error_deg
        # Mean and mean square of the error that the reading is found to have.
        share, stray_share = noise / spread, noise / strayed
        mean = float((off @ usual) @ share + (off @ stray) * stray_share) / total
        square = float(
            (off2 @ usual) @ share**2
            + usual.sum(axis=0) @ (noise - noise * share)
            + (off2 @ stray) * stray_share**2
            + stray.sum() * (noise - noise * stray_share)
        )
        self._weights = weights * (likely + lapse[:, None]) / total
        return reading_deg - mean, math.sqrt(max(square / total - mean**2, 0.0))
