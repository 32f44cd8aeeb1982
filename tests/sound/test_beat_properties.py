"""Any sequence of rate changes at any times leaves every beat at its exact place."""

from fractions import Fraction
from itertools import pairwise
from math import floor

from hypothesis import given, settings
from hypothesis import strategies as st

from station.sound.beat import BeatClock

FS = 48_000
HALF = Fraction(1, 2)
NEAR_HALF = Fraction(1, 1000)
"""Samples: the clock rounds its anchor to 2**-20 of a sample once per change, so only a place
nearer than this to a half may be rounded the other way; all others must be exact."""
CHANGES = st.lists(
    st.tuples(st.integers(0, 3 * FS), st.integers(300, 3000).map(lambda tenths: tenths / 10)),
    min_size=1,
    max_size=12,
)


@settings(derandomize=True, max_examples=60, deadline=None, database=None)
@given(changes=CHANGES, tail=st.integers(1, 10 * FS))
def test_any_changes_of_rate_keep_order_phase_and_place(
    changes: list[tuple[int, float]], tail: int
) -> None:
    clock = BeatClock(FS)
    taken: list[int] = []
    expected: list[Fraction] = []
    # The reference steps from beat to beat in exact fractions, with no anchor and no index.
    at, place, period = 0, Fraction(0), Fraction(0)
    for i, (gap, rate_spm) in enumerate(changes):
        at += gap
        taken += [beat.sample for beat in clock.take(at)]
        while i and floor(place + HALF) < at:
            expected.append(place)
            place += period
        clock.set_rate(rate_spm, at)
        new = 60 * FS / Fraction(rate_spm).limit_denominator(10)
        if i == 0:
            place = Fraction(at)
        elif new != period:  # the share of a period still to run is still to run
            place = at + max(Fraction(0), (place - at) / period) * new
        period = new
    end = at + tail
    taken += [beat.sample for beat in clock.take(end)]
    while floor(place + HALF) < end:
        expected.append(place)
        place += period
    assert len(taken) == len(expected), "a beat doubled or lost"
    assert all(a < b for a, b in pairwise(taken)), "out of order"
    for sample, exact in zip(taken, expected, strict=True):
        rounded = floor(exact + HALF)
        if abs(exact - floor(exact) - HALF) > NEAR_HALF:
            assert sample == rounded
        else:
            assert abs(sample - exact) <= HALF + NEAR_HALF
