"""Counts of a session: what became of its frames, and how long its answers took."""

from __future__ import annotations

from array import array
from collections.abc import Iterable
from typing import Any

import numpy as np

from station.keep import FrameCounts
from station.values import Observation

LATENCIES_KEPT = 20_000
"""Landings whose delays are kept, the newest: over an hour and a half of running."""


class ViewCounter:
    """Counts in how many frames somebody was seen."""

    def __init__(self) -> None:
        """Begin before the first frame."""
        self.measured = 0
        self.tracked = 0
        self.in_view = 0
        self._span = 0  # measured frames from the first one in view up to the last one in view
        self._span_tracked = 0
        self._open = 0  # the frames since
        self._open_tracked = 0

    def add(self, observation: Observation) -> None:
        """Take one observation."""
        found = observation.pose.found
        self.measured += 1
        self.tracked += found
        self.in_view += observation.in_view
        if not (observation.in_view or self.in_view):
            return
        self._open += 1
        self._open_tracked += found
        if observation.in_view:
            self._span += self._open
            self._span_tracked += self._open_tracked
            self._open = self._open_tracked = 0

    def counts(self, captured: int, dropped: int) -> FrameCounts:
        """Return all counts; the source's own are given."""
        return FrameCounts(
            captured=captured,
            tracked=self.tracked,
            in_view=self.in_view,
            dropped=dropped,
            tracked_share=self._span_tracked / self._span if self._span else None,
        )


class Latency:
    """Delays of one kind, in seconds."""

    def __init__(self) -> None:
        """Begin with none."""
        self._values_s = array("d")
        self._count = 0

    def add(self, value_s: float) -> None:
        """Take one delay."""
        if len(self._values_s) < LATENCIES_KEPT:
            self._values_s.append(value_s)
        else:
            self._values_s[self._count % LATENCIES_KEPT] = value_s
        self._count += 1

    def as_dict(self) -> dict[str, Any] | None:
        """Return count, median and 95th percentile; None where none is known."""
        return _spread(self._values_s)


def _spread(values_s: Iterable[float]) -> dict[str, Any] | None:
    values = np.array(list(values_s), dtype=np.float64)
    if values.size == 0:
        return None
    median, p95 = np.percentile(values, (50, 95))
    return {"count": int(values.size), "median": float(median), "p95": float(p95)}
