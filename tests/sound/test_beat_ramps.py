"""A change of rate that is spread over steps: exact, in order, and never over 3 % a step."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from math import ceil, floor

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.errors import BadInput
from station.sound.beat import BeatClock

FS = 48_000
HALF = Fraction(1, 2)
NEAR_HALF = Fraction(1, 100)
"""Samples. Every beat of a ramp rounds its anchor to 2**-20 of a sample; over thousands of beats
this adds up to less than this, and only a place this near to a half may be rounded otherwise."""


def exact(rate_spm: float) -> Fraction:
    return Fraction(rate_spm).limit_denominator(1000)


def spread(begin: Fraction, end: Fraction, most: Fraction) -> list[Fraction]:
    """Return the rates of a ramp, one for each step, `begin` left out."""
    n = 1
    # The least number of equal parts with which the slowest two rates are near enough.
    while abs(end - begin) / n > most * min(begin, end):
        n += 1
    return [begin + (end - begin) * j / n for j in range(1, n + 1)]


class Reference:
    """Steps from beat to beat in exact fractions: no anchor, no index, no closed form."""

    def __init__(self) -> None:
        self.places: list[Fraction] = []
        self.periods: list[Fraction] = []
        self.rate: Fraction | None = None
        self.place = Fraction(0)
        self.coming: list[Fraction] = []
        self.target: Fraction | None = None

    def run_to(self, end: int) -> None:
        while self.rate is not None and floor(self.place + HALF) < end:
            if self.coming:
                self.rate = self.coming.pop(0)
            self.places.append(self.place)
            self.periods.append(60 * FS / self.rate)
            self.place += self.periods[-1]

    def set_rate(
        self, rate: Fraction | None, at: int, ramp: Fraction, start: Fraction | None
    ) -> None:
        if rate is None:
            self.rate = self.target = None
            self.coming = []
            return
        if rate == self.target:
            return
        if self.rate is None:
            first = rate if start is None else start
            heels = floor(self.places[-1] + HALF) + 60 * FS / first if self.places else Fraction(0)
            self.place = max(Fraction(at), heels)
            self.rate = first
            self.coming = []
            if first != rate:
                self.coming = [first, *spread(first, rate, ramp or Fraction(3, 100))]
        elif ramp:
            self.coming = spread(self.rate, rate, ramp) if rate != self.rate else []
        else:
            share = max(Fraction(0), (self.place - at) * self.rate / (60 * FS))
            self.place = at + share * 60 * FS / rate
            self.rate = rate
            self.coming = []
        self.target = rate


RATES = st.integers(300, 3000).map(lambda tenths: tenths / 10)
RAMPS = st.sampled_from([0.0, 0.005, 0.01, 0.02, 0.025, 0.03])
CHANGES = st.lists(
    st.tuples(st.integers(0, 4 * FS), st.none() | RATES, RAMPS, st.none() | RATES),
    min_size=1,
    max_size=10,
)


@settings(derandomize=True, max_examples=150, deadline=None, database=None)
@given(changes=CHANGES, tail=st.integers(1, 20 * FS))
def test_any_changes_and_ramps_keep_order_phase_and_place(
    changes: list[tuple[int, float | None, float, float | None]], tail: int
) -> None:
    clock, reference, taken, at = BeatClock(FS), Reference(), [], 0
    for gap, rate_spm, ramp, start_spm in changes:
        at += gap
        taken += clock.take(at)
        reference.run_to(at)
        clock.set_rate(rate_spm, at, ramp, start_spm)
        reference.set_rate(
            None if rate_spm is None else exact(rate_spm),
            at,
            exact(ramp),
            None if start_spm is None else exact(start_spm),
        )
    taken += clock.take(at + tail)
    reference.run_to(at + tail)
    assert len(taken) == len(reference.places), "a beat doubled or lost"
    assert [beat.number for beat in taken] == list(range(len(taken)))
    assert all(a.sample < b.sample for a, b in pairwise(taken)), "out of order"
    for beat, place, period in zip(taken, reference.places, reference.periods, strict=True):
        assert beat.period == pytest.approx(float(period), rel=1e-9)
        if abs(place - floor(place) - HALF) > NEAR_HALF:
            assert beat.sample == floor(place + HALF)
        else:
            assert abs(beat.sample - place) <= HALF + NEAR_HALF


TARGETS = st.integers(1200, 2400).map(lambda tenths: tenths / 10)


@settings(derandomize=True, max_examples=60, deadline=None, database=None)
@given(
    first=TARGETS,
    changes=st.lists(st.tuples(st.integers(0, 8 * FS), TARGETS), min_size=1, max_size=5),
    ramp=st.floats(0.005, 0.03),
)
def test_no_step_of_a_ramp_is_over_what_was_asked(
    first: float, changes: list[tuple[int, float]], ramp: float
) -> None:
    clock, taken, at = BeatClock(FS), [], 0
    clock.set_rate(first, 0)
    for gap, rate_spm in changes:
        at += gap
        taken += clock.take(at)
        clock.set_rate(rate_spm, at, ramp)
    # From 120 to 240 by 0.5 % of 120 a step is 200 steps, 100 s at the slowest.
    taken += clock.take(at + 110 * FS)
    assert 60 * FS / taken[-1].period == pytest.approx(changes[-1][1], rel=1e-9), "it never arrives"
    for one, two in pairwise(taken):
        assert abs(two.period / one.period - 1.0) <= ramp + 1e-6, "a period"
        assert abs(one.period / two.period - 1.0) <= ramp + 1e-6, "a rate"
        # The sound itself: rounding moves each end of an interval by half a sample at most.
        assert abs(two.sample - one.sample - one.period) <= 1.0


def test_a_ramp_by_hand() -> None:
    """160 to 180 by at most 3 %: 20 / 4.8, so five parts of 4 (computed)."""
    clock = BeatClock(FS)
    clock.set_rate(160, 0)
    assert [beat.sample for beat in clock.take(20_000)] == [0, 18_000]
    clock.set_rate(180, 20_000, 0.03)
    got = clock.take(150_000)
    periods = [60 * FS / rate for rate in (164, 168, 172, 176, 180, 180)]
    assert [beat.period for beat in got[:6]] == pytest.approx(periods)
    place, places = 36_000.0, []
    for period in periods:
        places.append(floor(place + 0.5))
        place += period
    assert [beat.sample for beat in got[:6]] == places
    assert [beat.number for beat in got[:6]] == [2, 3, 4, 5, 6, 7]


def test_a_beat_may_start_at_another_rate_and_climb() -> None:
    clock = BeatClock(FS)
    clock.set_rate(180, 480, 0.02, start_spm=162)
    got = clock.take(30 * FS)
    assert got[0].sample == 480
    rates = [60 * FS / beat.period for beat in got]
    assert rates[0] == pytest.approx(162), "the first step is the runner's own"
    n = ceil(18 / (0.02 * 162))
    assert rates[1 : n + 1] == pytest.approx([162 + 18 * j / n for j in range(1, n + 1)])
    assert rates[n + 1 :] == pytest.approx([180.0] * (len(rates) - n - 1))


def test_a_ramp_asked_again_goes_on_undisturbed() -> None:
    plain, nudged = BeatClock(FS), BeatClock(FS)
    for clock in (plain, nudged):
        clock.set_rate(150, 0)
        clock.take(10)
        clock.set_rate(190, 10, 0.01)
    got = []
    for at in range(10, 20 * FS + 10, 480):
        nudged.set_rate(190, at, 0.01, start_spm=170)
        got += nudged.take(at + 480)
    assert got == plain.take(20 * FS + 10)


@pytest.mark.parametrize("ramp", [-0.01, 0.0301, float("nan")])
def test_too_steep_a_ramp_is_refused(ramp: float) -> None:
    clock = BeatClock(FS)
    clock.set_rate(180, 0)
    with pytest.raises(BadInput, match="allowed is 0"):
        clock.set_rate(170, 0, ramp)


def test_an_impossible_rate_to_start_from_is_refused() -> None:
    with pytest.raises(BadInput, match="allowed is 30 to 300"):
        BeatClock(FS).set_rate(170, 0, 0.02, start_spm=10)
