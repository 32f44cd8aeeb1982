from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.errors import BadInput
from station.sound.beat import BeatClock

FS = 48_000
RATES = st.floats(30.0, 300.0)


@pytest.mark.parametrize(
    ("rate_spm", "fs", "period"),
    # 60 / rate x samples per second (computed; shared check values, section 12)
    [
        (150, 48_000, Fraction(19200)),
        (180, 48_000, Fraction(16000)),
        (160, 44_100, Fraction(33075, 2)),
        (170, 48_000, Fraction(288000, 17)),
        (173, 48_000, Fraction(2880000, 173)),
    ],
)
def test_beats_never_drift_in_ten_hours(rate_spm: int, fs: int, period: Fraction) -> None:
    clock = BeatClock(fs)
    clock.set_rate(rate_spm, 0)
    end = 10 * 3600 * fs
    onsets = np.array([beat.sample for beat in clock.take(end)], dtype=np.int64)
    assert len(onsets) == -(-end // period)
    # In whole numbers, so that the check itself does not round: off by half a sample at most.
    parts, whole = period.denominator, period.numerator
    assert np.abs(2 * (onsets * parts - np.arange(len(onsets)) * whole)).max() <= parts
    # What rounding every period would do instead is far off by then: the test can tell.
    if period.denominator > 2:
        assert abs(round(period) * (len(onsets) - 1) - onsets[-1]) > 1000


def test_a_change_of_rate_keeps_the_phase() -> None:
    clock = BeatClock(FS)
    clock.set_rate(150, 0)  # every 19200
    clock.take(100_000)  # the last at 96000
    clock.set_rate(180, 96_000 + 4_800)  # a quarter gone
    assert clock.next_sample == 96_000 + 4_800 + 12_000  # three quarters of 16000 to run
    assert [b.sample for b in clock.take(145_000)] == [112_800, 128_800, 144_800]


def test_the_same_rate_again_changes_nothing() -> None:
    plain, nudged = BeatClock(FS), BeatClock(FS)
    plain.set_rate(173, 0)
    onsets = []
    for at in range(0, 10_000_000, 480):
        nudged.set_rate(173, at)
        onsets += nudged.take(at + 480)
    assert onsets == plain.take(10_000_080)


def test_a_beat_starts_at_once_yet_not_on_the_heels_of_the_last() -> None:
    clock = BeatClock(FS)
    clock.set_rate(180, 777)
    assert [b.sample for b in clock.take(1_000)] == [777]
    clock.set_rate(None, 1_000)
    assert clock.next_sample is None
    assert clock.take(500_000) == []
    clock.set_rate(180, 500_000)
    assert [b.sample for b in clock.take(500_001)] == [500_000]
    clock.set_rate(None, 500_100)
    clock.set_rate(160, 500_200)
    assert clock.next_sample == 518_000  # one period of 18000 after the last


def test_a_change_in_the_past_is_refused() -> None:
    clock = BeatClock(FS)
    clock.set_rate(180, 0)
    with pytest.raises(ValueError, match="must be taken before"):
        clock.set_rate(170, 1)


@pytest.mark.parametrize("rate_spm", [0.0, -180.0, 29.9, 300.1, float("nan"), float("inf")])
def test_an_impossible_rate_is_refused(rate_spm: float) -> None:
    with pytest.raises(BadInput, match="allowed is 30 to 300"):
        BeatClock(FS).set_rate(rate_spm, 0)


@settings(deadline=None)
@given(st.lists(st.tuples(st.integers(0, 200_000), RATES), min_size=1, max_size=40))
def test_changes_of_rate_lose_and_double_no_beat(changes: list[tuple[int, float]]) -> None:
    clock = BeatClock(FS)
    clock.set_rate(changes[0][1], 0)
    onsets, at = [], 0
    history = [(0, 60.0 * FS / changes[0][1])]  # (from sample, period)
    for wait, rate in changes:
        at += wait
        onsets += [b.sample for b in clock.take(at)]
        clock.set_rate(rate, at)
        history.append((at, 60.0 * FS / rate))
    onsets += [b.sample for b in clock.take(at + 300_000)]
    assert onsets[0] == 0
    # Phase is the integral of 1 / period: beat k is where it reaches k, whatever the changes.
    phase, done, k = 0.0, 0, 0
    for (start, period), (end, _) in zip(history, [*history[1:], (at + 300_000, 0.0)], strict=True):
        while k < len(onsets) and onsets[k] < end:
            assert abs(phase + (onsets[k] - start) / period - k) * period < 0.5 + 0.5 * len(changes)
            k += 1
        phase += (end - start) / period
        done = end
    assert done == at + 300_000
    assert k == len(onsets)
    assert abs(len(onsets) - 1 - phase) < 1.0 + 1e-3 * len(changes)


@settings(deadline=None)
@given(st.lists(st.tuples(st.integers(1, 60_000), st.none() | RATES), max_size=40))
def test_stops_and_starts_keep_the_beats_apart(changes: list[tuple[int, float | None]]) -> None:
    clock = BeatClock(FS)
    onsets, at = [], 0
    for wait, rate in changes:
        clock.set_rate(rate, at)
        at += wait
        onsets += [b.sample for b in clock.take(at)]
    gaps = [b - a for a, b in pairwise(onsets)]
    assert all(gap >= 60 * FS / 300 - 1 for gap in gaps)


@given(
    st.lists(st.tuples(st.integers(1, 50_000), RATES), min_size=1, max_size=20),
    st.lists(st.integers(100, 20_000), min_size=1, max_size=5),
)
@settings(deadline=None, max_examples=50)
def test_the_size_of_blocks_does_not_move_a_beat(
    changes: list[tuple[int, float]], sizes: list[int]
) -> None:
    whole, pieces = BeatClock(FS), BeatClock(FS)
    at = 0
    in_one, in_many = [], []
    for wait, rate in changes:
        whole.set_rate(rate, at)
        pieces.set_rate(rate, at)
        end = at + wait
        in_one += whole.take(end)
        i = 0
        while at < end:
            at = min(at + sizes[i % len(sizes)], end)
            in_many += pieces.take(at)
            i += 1
    assert in_one == in_many
