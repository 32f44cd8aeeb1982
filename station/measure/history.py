"""A short memory of frames as plain arrays, so that every estimate reads slices without copying."""

from __future__ import annotations

import numpy as np

from station.values import Floats

LEG_POINTS = 5
"""Hip, knee, ankle, heel, foot index (toe): the order of the last but one axis of a leg."""
HIP, KNEE, ANKLE, HEEL, TOE = range(LEG_POINTS)
SIDES = 2
"""First axis of a pair of legs: 0 left, 1 right (the runner's own)."""


class History:
    """The last frames: times, legs and upper body, oldest first.

    Points are gravity-aligned pixels: x ahead, y up (see `plane.Plane`).
    """

    def __init__(self, capacity: int, upper_points: int) -> None:
        """Reserve room for `capacity` frames (what is older is forgotten)."""
        room = 2 * capacity
        self._capacity = capacity
        self._t = np.empty(room)
        self._legs = np.empty((room, SIDES, LEG_POINTS, 2))
        self._upper = np.empty((room, upper_points, 2))
        self._start = 0
        self._end = 0

    def append(self, t_s: float, legs: Floats, upper: Floats) -> None:
        """Add one frame: legs (2, 5, 2), upper body (n, 2); NaN where not known."""
        if self._end == len(self._t):
            keep = slice(self._end - self._capacity, self._end)
            for array in (self._t, self._legs, self._upper):
                array[: self._capacity] = array[keep].copy()
            self._start, self._end = 0, self._capacity
        self._t[self._end] = t_s
        self._legs[self._end] = legs
        self._upper[self._end] = upper
        self._end += 1
        self._start = max(self._start, self._end - self._capacity)

    def clear(self) -> None:
        """Forget all frames: what follows has no connection with what was."""
        self._start = self._end = 0

    def __len__(self) -> int:
        """Return the number of frames remembered."""
        return self._end - self._start

    @property
    def t_s(self) -> Floats:
        """(n,) frame times."""
        return self._t[self._start : self._end]

    @property
    def legs(self) -> Floats:
        """(n, 2, 5, 2) legs."""
        return self._legs[self._start : self._end]

    @property
    def upper(self) -> Floats:
        """(n, points, 2) upper body."""
        return self._upper[self._start : self._end]

    def span(self, from_s: float, to_s: float) -> slice:
        """Return the slice of frames with `from_s` <= t <= `to_s` (for the arrays above)."""
        t = self.t_s
        return slice(int(np.searchsorted(t, from_s)), int(np.searchsorted(t, to_s, side="right")))
