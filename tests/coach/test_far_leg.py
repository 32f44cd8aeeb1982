from __future__ import annotations

from dataclasses import replace

import pytest

from station.coach.far_leg import is_answered
from station.coach.verdict import Baseline, LandingLimit, LandingLimits, LegBaseline
from station.values import Belt

OWN = LandingLimits(LandingLimit(7.0, "baseline"), LandingLimit(7.0, "baseline"))
FIXED = LandingLimits(LandingLimit(7.0, "drill"), LandingLimit(7.0, "drill"))


def baseline(spread_deg):
    return Baseline(Belt(2.7), 170.0, LegBaseline(40, 6.0, spread_deg), None)


@pytest.fixture
def far(landing):
    return landing(side="left", error_deg=1.5)


def test_the_near_leg_is_always_answered(landing):
    near = landing(side="right", error_deg=5.0)
    assert near.near
    assert is_answered(near, FIXED, None)


def test_the_far_leg_is_not_where_nothing_is_known(far):
    """However sure the single landing calls itself: that is its scatter, not its error."""
    assert not is_answered(replace(far, shank_error_deg=0.1), FIXED, None)
    assert not is_answered(far, FIXED, baseline(1.0))
    assert not is_answered(far, OWN, None)


@pytest.mark.parametrize(("bay_deg", "answered"), [(0.0, True), (2.0, True), (2.1, False)])
def test_the_bays_measured_error_decides(far, bay_deg, answered):
    assert is_answered(far, FIXED, None, bay_error_deg=bay_deg) == answered
    assert is_answered(far, OWN, baseline(1.0), bay_error_deg=bay_deg) == answered


@pytest.mark.parametrize(
    ("spread_deg", "change_deg", "answered"),
    [(1.3, 0.0, True), (2.0, 0.0, True), (2.1, 0.0, False), (1.3, -2.0, True), (1.3, -5.0, False)],
)
def test_an_own_steady_baseline_and_little_change_will_do(far, spread_deg, change_deg, answered):
    assert is_answered(far, OWN, baseline(spread_deg), change_deg) == answered


@pytest.mark.parametrize("error_deg", [2.1, None, float("nan")])
def test_a_landing_that_is_unsure_itself_is_not_answered(far, error_deg):
    unsure = replace(far, shank_error_deg=error_deg)
    assert not is_answered(unsure, OWN, baseline(1.0))
    assert not is_answered(unsure, FIXED, None, bay_error_deg=1.0)
