"""Which jumps of a device's clock are an under-run's; time is advanced by hand."""

from __future__ import annotations

import numpy as np
import pytest

from station.sound.device_clock import DeviceClock
from station.sound.underruns import Gaps

FS, BLOCK, LATE_S = 48_000, 1024, 0.045


def heard_of(jitter_s: float) -> list[float]:
    """Let a device stall once, and tell unevenly of its blocks; return what is to be put right."""
    rng = np.random.default_rng(3)
    clock, gaps = DeviceClock(FS, 0.0), Gaps()
    answers = []
    for number in range(600):
        stalled = number >= 300
        now_s = number * BLOCK / FS + LATE_S * stalled
        clock.observe(number * BLOCK, now_s + jitter_s * rng.random() * stalled)
        answers.append(gaps.late_s(now_s, int(stalled), clock.jumped_s))
    return [late_s for late_s in answers if late_s]


@pytest.mark.parametrize("jitter_s", [0.0, 0.003, 0.012])
def test_an_under_run_is_answered_also_where_blocks_are_told_of_unevenly(jitter_s: float) -> None:
    (late_s,) = heard_of(jitter_s)
    assert late_s == pytest.approx(LATE_S + 0.5 * jitter_s, abs=0.5 * jitter_s + 0.001)


def test_a_jump_that_no_under_run_goes_with_moves_nothing() -> None:
    gaps = Gaps()
    assert gaps.late_s(10.0, 0, LATE_S) == 0.0
    assert gaps.late_s(20.0, 1, LATE_S) == 0.0
    assert gaps.late_s(20.5, 1, 2.0 * LATE_S) == LATE_S
