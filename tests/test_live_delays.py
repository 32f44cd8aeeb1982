"""Delays: the newest are kept, in a bounded room."""

from __future__ import annotations

import pytest

from station.live.counts import LATENCIES_KEPT, Latency


def test_only_the_newest_are_kept() -> None:
    delays = Latency()
    assert delays.as_dict() is None
    for _ in range(LATENCIES_KEPT):
        delays.add(9.0)
    for _ in range(LATENCIES_KEPT - 100):
        delays.add(0.1)
    assert delays.as_dict() == {
        "count": LATENCIES_KEPT, "median": pytest.approx(0.1), "p95": pytest.approx(0.1),
    }  # fmt: skip
    for _ in range(100):
        delays.add(0.2)
    told = delays.as_dict()
    assert told is not None
    assert told["count"] == LATENCIES_KEPT  # all 9.0 are gone
    assert len(delays._values_s) == LATENCIES_KEPT
    assert 9.0 not in delays._values_s
