import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.coach.visit.position_guard import PositionGuard
from station.measure.whereabouts import Whereabouts

FPS = 30.0
REACH_M = 0.62
"""How far the rear foot goes behind the hips at toe-off (invented)."""


def course(hips_m, seconds: float, t0_s: float = 0.0):
    """Give a runner's places: hips with the sway of a step, feet that come and go."""
    rng = np.random.default_rng(5)
    for i in range(int(seconds * FPS)):
        t_s = t0_s + i / FPS
        sway_m = 0.02 * math.sin(2 * math.pi * 2.9 * t_s) + 0.01 * rng.standard_normal()
        hips = hips_m(t_s) + sway_m
        foot = hips - 0.1 - 0.5 * (REACH_M - 0.1) * (1 + math.sin(2 * math.pi * 1.45 * t_s))
        yield Whereabouts(t_s, hips, foot if i % 3 else math.nan)


def warnings(guard: PositionGuard, places) -> list[tuple[float, str]]:
    return [(p.t_s, told) for p in places if (told := guard.see(p)) is not None]


@pytest.mark.parametrize(
    ("room_m", "speed_mps"), [(0.6, 0.25), (0.6, 0.5), (0.9, 0.25), (0.9, 0.5), (0.9, 0.8)]
)
def test_it_warns_before_the_rear_foot_leaves_the_belt(room_m: float, speed_mps: float) -> None:
    rear_m = -REACH_M - room_m
    guard = PositionGuard(rear_m)
    told = warnings(guard, course(lambda t: -speed_mps * max(0.0, t - 20.0), 26.0))
    leaves_s = 20.0 + room_m / speed_mps
    assert told[0][1] == "come_forward"
    assert told[0][0] <= leaves_s - 0.5
    assert told[0][0] >= 20.0


@given(
    st.floats(0.05, 0.5), st.floats(0.0, 6.28), st.floats(0.35, 1.2), st.booleans()
)  # fmt: skip
@settings(max_examples=15, deadline=None)
def test_ordinary_wander_is_not_warned_of(
    hz: float, phase: float, room_m: float, known: bool
) -> None:
    guard = PositionGuard(-REACH_M - room_m if known else None)
    sway = course(lambda t: 0.15 * math.sin(2 * math.pi * hz * t + phase), 60.0)
    assert warnings(guard, sway) == []


def test_ten_minutes_of_wander() -> None:
    rng = np.random.default_rng(3)
    knots = np.clip(rng.normal(0.0, 0.08, 300), -0.15, 0.15)  # a new place every two seconds
    guard = PositionGuard(-REACH_M - 0.5)
    sway = course(lambda t: float(np.interp(t / 2.0, np.arange(300), knots)), 590.0)
    assert warnings(guard, sway) == []


def test_a_second_drift_within_half_a_minute_is_answered_with_stop() -> None:
    guard = PositionGuard(-REACH_M - 0.6)

    def place(t: float) -> float:
        for began in (20.0, 35.0):
            if began <= t < began + 4.0:
                return -0.5 * min(1.0, t - began) + 0.5 * max(0.0, min(1.0, t - began - 2.0))
        return 0.0

    assert [told for _, told in warnings(guard, course(place, 45.0))] == [
        "come_forward", "stop_belt",
    ]  # fmt: skip
    assert guard.warning is None


def test_two_drifts_a_minute_apart_are_two_first_ones() -> None:
    guard = PositionGuard(-REACH_M - 0.6)

    def place(t: float) -> float:
        for began in (20.0, 80.0):
            if began <= t < began + 4.0:
                return -0.5 * min(1.0, t - began) + 0.5 * max(0.0, min(1.0, t - began - 2.0))
        return 0.0

    told = [word for _, word in warnings(guard, course(place, 90.0))]
    assert told == ["come_forward", "come_forward"]


def test_a_drift_that_goes_on_becomes_stop() -> None:
    guard = PositionGuard(-REACH_M - 0.8)
    told = warnings(guard, course(lambda t: -0.25 * max(0.0, t - 20.0), 27.0))
    assert [word for _, word in told] == ["come_forward", "stop_belt"]
    assert told[1][0] - told[0][0] == pytest.approx(guard.rule.going_on_s, abs=0.1)


def test_nobody_in_view_calls_staff_within_a_second() -> None:
    guard = PositionGuard(None)
    warnings(guard, course(lambda t: 0.0, 10.0))
    told = [t for i in range(90) if guard.unseen(t := 10.0 + i / FPS, belt_may_run=True)]
    assert len(told) == 1
    assert told[0] - 10.0 < 1.0


def test_a_standing_belt_calls_nobody() -> None:
    guard = PositionGuard(None)
    assert not any(guard.unseen(i / FPS, belt_may_run=False) for i in range(900))


@given(st.lists(st.tuples(st.booleans(), st.floats(0.01, 5.0)), max_size=80))
def test_only_a_person_ends_the_call(frames: list[tuple[bool, float]]) -> None:
    guard = PositionGuard(None)
    guard.unseen(0.0, True)
    assert guard.unseen(2.0, True) == "call_staff"
    t_s = 2.0
    for seen, gap_s in frames:
        t_s += gap_s
        if seen:
            guard.see(Whereabouts(t_s, 0.0, -0.5))
        else:
            guard.unseen(t_s, True)
        assert guard.warning == "call_staff"
    guard.acknowledged(t_s)
    assert guard.warning is None
