from __future__ import annotations

import pytest

from station.coach.plan import Gate, Plan, StepRate
from station.coach.plan_flags import plan_flags
from station.coach.plan_rates import rate_rises, rise_points

OWN = StepRate(change_percent=0.0, own=True)


def up(percent: float) -> StepRate:
    return StepRate(change_percent=percent)


def spm(rate: float) -> StepRate:
    return StepRate(spm=rate)


@pytest.mark.parametrize(
    ("before", "after", "points"),
    [
        (None, None, 0.0),
        (up(5), None, 0.0),
        (up(5), OWN, 0.0),
        (None, up(5), 5.0),
        (OWN, up(5), 5.0),
        (up(5), up(7.5), 2.5),
        (up(5), up(2), -3.0),
        (spm(160), spm(168), 5.0),
        (None, spm(180), None),
        (OWN, spm(180), None),
        (up(5), spm(180), None),
        (spm(180), up(5), None),
    ],
)
def test_how_far_a_rate_rises(before, after, points):
    rise = rise_points(before, after)
    assert rise == (None if points is None else pytest.approx(points))
    assert rate_rises(before, after) is (None if points is None else points > 0.0)


@pytest.fixture
def untouched(drill):
    def build(**keys):
        return drill(**{"feedback": "off", "beat": False, "guides": False, **keys})

    return build


def keys(*drills):
    return [(flag.number, flag.key) for flag in plan_flags(Plan("P", drills))]


def texts(*drills):
    return " / ".join(str(flag) for flag in plan_flags(Plan("P", drills)))


def test_rates_against_the_runners_own(drill, untouched):
    assert keys(untouched(), drill(step_rate=up(5)), drill(step_rate=up(10))) == []
    assert keys(untouched(), drill(step_rate=up(6))) == [(2, "step_rate")]
    assert "rises by 6 % at once" in texts(untouched(), drill(step_rate=up(6)))
    over = texts(untouched(), drill(step_rate=up(5)), drill(name="B", step_rate=up(10)),
                 drill(name="C", step_rate=up(12)))  # fmt: skip
    assert over.startswith('drill 4 "C": step_rate = "+12 %" is over +10 % in all')
    assert " / " not in over
    assert "below the runner's own" in texts(untouched(), drill(step_rate=up(-3)))


def test_a_coach_present_is_the_word_that_is_asked_for(drill, untouched):
    for percent in (6, 12, -3):
        assert keys(untouched(), drill(step_rate=up(percent), attended=True)) == []


def test_fixed_rates_against_each_other(drill):
    assert keys(drill(step_rate=spm(160)), drill(step_rate=spm(168))) == []
    assert keys(drill(step_rate=spm(160)), drill(step_rate=spm(170))) == [(2, "step_rate")]
    assert keys(drill(step_rate=spm(180))) == []  # against whose own rate, nobody knows


def test_a_rise_is_counted_from_the_last_drill_at_this_belt_speed(drill, untouched):
    fast = untouched(belt_speed_mps=3.5)
    assert keys(untouched(), drill(step_rate=up(5)), fast, drill(step_rate=up(10))) == []
    assert keys(fast, untouched(), drill(step_rate=up(10))) == [(3, "step_rate")]


def test_the_same_share_more_at_a_faster_belt_is_no_rise(drill, untouched):
    fast = drill(belt_speed_mps=3.5, step_rate=up(10))
    told = keys(untouched(), drill(step_rate=up(5)), drill(step_rate=up(10)), fast)
    assert told == [(4, "step_rate")]  # its baseline is missing, and nothing else


def test_a_rest_or_hops_between_change_nothing(drill, untouched):
    rest = drill(kind="rest", belt_speed_mps=None)
    hops = drill(kind="hop", seconds=None, hops=(3, 2))
    for between in (rest, hops):
        assert keys(untouched(), between, drill(step_rate=up(8))) == [(3, "step_rate")]
        assert keys(untouched(), drill(step_rate=up(5)), between, drill(step_rate=up(10))) == []


def test_a_rate_that_may_rise_with_the_belt(drill, untouched):
    faster = drill(belt_speed_mps=3.5, belt_speed_text="3.5 m/s", step_rate=spm(180))
    assert keys(untouched(), faster) == [(2, "step_rate")]
    assert "put an untouched drill at 3.5 m/s" in texts(untouched(), faster)
    own = untouched(belt_speed_mps=3.5)
    assert keys(untouched(), own, faster) == []


def test_what_goes_by_a_baseline_that_nobody_takes(drill, untouched):
    assert keys(drill(step_rate=up(5), landing_change_deg=-2.0)) == [
        (1, "step_rate"), (1, "landing_change_deg"),
    ]  # fmt: skip
    assert keys(untouched(incline_percent=5.0), drill(landing_change_deg=-2.0)) == [
        (2, "landing_change_deg")
    ]
    assert keys(untouched(), drill(landing_change_deg=-2.0)) == []
    assert keys(drill(step_rate=OWN)) == []


def test_a_warm_up_at_the_baselines_own_speed(drill, untouched):
    assert keys(untouched(name="Warm up"), untouched()) == [(2, "feedback")]
    assert 'at the same belt as "Warm up"' in texts(untouched(name="Warm up"), untouched())
    assert keys(untouched(), drill(), untouched()) == []  # coached since: the baseline stands


def test_guides_in_a_baseline(untouched):
    assert keys(untouched(guides=True)) == [(1, "guides")]


def test_gates_that_prove_little_or_leave_no_time(drill):
    def gated(seconds, length):
        return drill(seconds=length, advance=Gate(0.9, seconds))

    assert keys(gated(120.0, 300.0)) == []
    assert keys(gated(60.0, 300.0)) == [(1, "advance")]
    assert keys(gated(120.0, 130.0)) == [(1, "advance")]


def test_keys_that_do_nothing_or_spoil_a_test(drill):
    assert keys(drill(cue_on="median", feedback="summary")) == [(1, "cue_on")]
    assert keys(drill(cue_on="median")) == []
    assert keys(drill(rate_test=True, step_rate=OWN)) == [(1, "rate_test")]
    assert keys(drill(rate_test=True, step_rate=OWN, feedback="off")) == []
