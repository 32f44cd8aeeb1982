"""The real frame rate: from the times that pictures were taken at, not from what is promised."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

_FEWEST = 12
_WINDOW_S = 0.5
_HALVED = (0.4, 0.6)
"""A camera that takes every picture twice as long as it is asked to gives half of them."""
_ENOUGH = 0.95


@dataclass(frozen=True, slots=True)
class Pace:
    """How a source's pictures come."""

    fps: float
    """Pictures per second taken, those that were let go included."""
    slowest_fps: float
    """Of the slowest half second."""


def pace_of(t_s: Sequence[float], index: Sequence[int]) -> Pace | None:
    """Return the frame rate of some pictures.

    Args:
        t_s: When each was exposed, seconds, rising.
        index: The count that the source gives each, rising; a gap: pictures were let go.

    Returns:
        The pace; None where there are too few to tell.
    """
    t, n = np.asarray(t_s, float), np.asarray(index, float)
    if len(t) < _FEWEST or t[-1] <= t[0] or n[-1] <= n[0]:
        return None
    taken = n[-1] - n[0]
    until = np.searchsorted(t, t + _WINDOW_S)
    rates = [
        (n[j] - n[i]) / (t[j] - t[i])
        for i, j in enumerate(until.tolist())
        if j < len(t) and t[j] > t[i]
    ]
    fps = float(taken / (t[-1] - t[0]))
    return Pace(fps, float(min(rates, default=fps)))


def is_halved(fps: float, asked_fps: float) -> bool:
    """Return whether a camera gives about half of what it is asked for: long exposures do that."""
    return _HALVED[0] <= fps / asked_fps <= _HALVED[1]


def is_enough(fps: float, asked_fps: float) -> bool:
    """Return whether a camera gives what it is asked for, but for a little."""
    return fps >= _ENOUGH * asked_fps
