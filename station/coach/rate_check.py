"""Holds a target step rate against the runner's own rate at the same belt speed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

MOST_AT_ONCE = 0.05
"""Of the runner's own rate: the most that a target rises at one step. Common practice, no source:
5 to 10 % above one's own rate is what runners keep up."""
MOST_IN_ALL = 0.10
_ROUNDING = 1e-6
Amiss = Literal["below own rate", "rises too much at once", "rises too much in all"]


@dataclass(frozen=True, slots=True)
class RateFlag:
    """What is out of the ordinary, and the nearest target that is not."""

    amiss: Amiss
    allowed_spm: float


def flag_rate(
    target_spm: float, own_spm: float, before_spm: float | None = None
) -> RateFlag | None:
    """Return what is out of the ordinary about a target; None: nothing is.

    Args:
        target_spm: Steps per minute.
        own_spm: The runner's baseline at this belt speed.
        before_spm: The target used before at this belt speed; None: none, it rises from `own_spm`.
    """
    if target_spm < own_spm * (1.0 - _ROUNDING):
        return RateFlag("below own rate", own_spm)
    most_spm = own_spm * (1.0 + MOST_IN_ALL)
    start_spm = own_spm if before_spm is None else max(before_spm, own_spm)
    next_spm = min(most_spm, start_spm + own_spm * MOST_AT_ONCE)
    if target_spm > most_spm * (1.0 + _ROUNDING):
        return RateFlag("rises too much in all", next_spm)
    if target_spm > next_spm * (1.0 + _ROUNDING):
        return RateFlag("rises too much at once", next_spm)
    return None
