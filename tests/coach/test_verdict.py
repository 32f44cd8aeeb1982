from __future__ import annotations

import math

import pytest

from station.coach.verdict import (
    FALLBACK_LIMIT_DEG,
    Baseline,
    LegBaseline,
    LimitRule,
    VerdictRule,
    baseline_from,
    judge,
    landing_limits,
)
from station.values import Belt

BELT = Belt(6 * 0.44704)


@pytest.mark.parametrize(
    ("shank_deg", "error_deg", "confidence", "expected"),
    [
        (6.0, 1.0, 0.9, "within"),
        (8.0, 1.0, 0.9, "within"),  # at the limit
        (8.9, 1.0, 0.9, "within"),  # over it, but not by more than its own error
        (9.0, 1.0, 0.9, "within"),  # by exactly its own error
        (9.1, 1.0, 0.9, "ahead"),
        (9.1, 1.5, 0.9, "within"),  # the same angle, measured worse
        (8.1, 0.0, 0.9, "ahead"),
        (-4.0, 1.0, 0.9, "within"),
        (9.9, None, 0.9, "within"),  # error not known: 2 deg stand in
        (10.1, None, 0.9, "ahead"),
        (10.1, math.nan, 0.9, "ahead"),
        (20.0, 1.0, 0.5, "ahead"),
        (20.0, 1.0, 0.49, None),
        (20.0, 1.0, math.nan, None),
        (None, 1.0, 0.9, None),
        (math.nan, 1.0, 0.9, None),
    ],
)
def test_verdict_against_a_limit_of_8_deg(landing, shank_deg, error_deg, confidence, expected):
    made = landing(shank_deg=shank_deg, error_deg=error_deg, confidence=confidence)
    assert judge(made, 8.0) == expected


def test_more_errors_may_be_asked_for(landing):
    made = landing(shank_deg=9.5, error_deg=1.0)
    assert judge(made, 8.0, VerdictRule(error_factor=1.0)) == "ahead"
    assert judge(made, 8.0, VerdictRule(error_factor=2.0)) == "within"


def test_the_drills_own_limit_goes_before_the_baseline(drill):
    baseline = Baseline(BELT, 165.0, LegBaseline(30, 12.0, 1.0), LegBaseline(30, 11.0, 1.0))
    limits = landing_limits(drill(landing_limit_deg=5.0), baseline)
    assert (limits.left.deg, limits.right.deg) == (5.0, 5.0)
    assert limits.left.origin == "drill"


def test_limit_from_the_baseline_is_each_legs_own(drill):
    baseline = Baseline(BELT, 165.0, LegBaseline(30, 12.0, 1.5), LegBaseline(30, 9.0, 0.1))
    limits = landing_limits(drill(landing_change_deg=-3.0), baseline)
    assert limits.left.deg == pytest.approx(12.0 + 1.5 - 3.0)
    assert limits.right.deg == pytest.approx(9.0 + 0.5 - 3.0)  # the least spread
    assert {limits.left.origin, limits.right.origin} == {"baseline"}


def test_a_poor_baseline_does_not_loosen_the_limit_without_end(drill):
    baseline = Baseline(BELT, None, LegBaseline(30, 8.0, 9.0), None)
    limits = landing_limits(drill(), baseline)
    assert limits.left.deg == pytest.approx(11.0)
    assert limits.right == limits.of("right")
    assert (limits.right.deg, limits.right.origin) == (FALLBACK_LIMIT_DEG, "fallback")


def test_without_a_baseline_the_fallback_stands_and_no_change_applies(drill):
    limits = landing_limits(drill(landing_change_deg=-3.0), None)
    assert (limits.left.deg, limits.left.origin) == (8.0, "fallback")


def test_each_leg_is_judged_by_its_own_limit(drill, landing):
    baseline = Baseline(BELT, None, LegBaseline(30, 12.0, 1.0), LegBaseline(30, 6.0, 1.0))
    limits = landing_limits(drill(), baseline)
    assert limits.judge(landing(side="left", shank_deg=10.0)) == "within"
    assert limits.judge(landing(side="right", shank_deg=10.0)) == "ahead"


def test_baseline_is_median_and_robust_spread_per_leg(landing, run):
    settle = run(6, 30.0)
    left = [landing(10 + i, "left", deg) for i, deg in enumerate([8, 9, 10, 11, 12] * 2)]
    right = [landing(10.5 + i, "right", deg) for i, deg in enumerate([5.0] * 9 + [40.0])]
    made = baseline_from([*settle, *left, *right], BELT)
    assert made.left == LegBaseline(10, 10.0, pytest.approx(math.hypot(1.4826, 1.0)))
    assert made.right == LegBaseline(10, 5.0, 1.0)  # one wild landing moves nothing
    assert made.step_rate_spm == pytest.approx(180.0)


def test_baseline_needs_enough_landings_that_could_be_judged(landing, run):
    poor = [landing(i, "left", 9.0, confidence=0.2) for i in range(50)]
    made = baseline_from([*run(6), *poor, *run(18, start_s=60.0)], BELT)
    assert made.left is None
    assert made.right is None  # 9 of 10
    assert baseline_from([], BELT) == Baseline(BELT)
    assert baseline_from(run(26), BELT, limit_rule=LimitRule(least_landings=10)).right is not None
