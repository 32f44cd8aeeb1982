"""Step rate, length and duty factor against a published table and plain identities."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from station.measure import GaitMeter
from station.measure.rhythm import (
    duty_factor,
    step_length_m,
    step_rate_spm,
    usual_step_time_s,
)
from station.simulate.trace import add_noise
from station.units import parse_speed
from station.values import Belt, Pose, Step, ViewProfile

TRIAL_VIEW = ViewProfile("right", 360.0, ((192.0, 640.0), (1088.0, 640.0)), 1280, 720)
# Contact ms, flight ms, step length cm, stride rate Hz, duty factor %: group means of Karamanidis &
# Arampatzis 2005, J Exp Biol 208, Table 4 (authors and year from memory, numbers from the table).
GROUPS = {
    "older runners": (276, 80, 93.9, 1.41, 38.9),
    "older, not active": (284, 83, 99.1, 1.38, 38.8),
    "young runners": (271, 112, 99.5, 1.31, 35.5),
    "young, not active": (282, 104, 103.6, 1.28, 36.7),
}
TABLE_MPS = 2.7
"""The study's speed, from memory: only a wide band rests on it."""


@pytest.mark.parametrize("group", GROUPS)
def test_published_table(group: str) -> None:
    contact_ms, flight_ms, length_cm, stride_hz, duty_percent = GROUPS[group]
    step_s = (contact_ms + flight_ms) / 1000.0
    assert step_rate_spm(step_s) / 120.0 == pytest.approx(stride_hz, abs=0.02)
    duty = duty_factor(contact_ms / 1000.0, flight_ms / 1000.0)
    assert duty is not None
    assert 100.0 * duty == pytest.approx(duty_percent, abs=0.2)
    assert 100.0 * step_length_m(TABLE_MPS, step_s) == pytest.approx(length_cm, rel=0.05)


# Speed is step length times step rate (Lieberman 2015, J Exp Biol 218:3406: "speed is the product
# of SF and SL"); the rows follow by arithmetic.
@pytest.mark.parametrize(
    ("speed", "spm", "length_m"),
    [
        ("6 mph", 160.0, 1.00584),
        ("3 m/s", 180.0, 1.0),
        ("3 m/s", 170.0, 1.058824),
        ("12 km/h", 170.0, 1.176471),
    ],
)
def test_step_length(speed: str, spm: float, length_m: float) -> None:
    assert step_length_m(parse_speed(speed).mps, 60.0 / spm) == pytest.approx(length_m, abs=1e-6)


@pytest.mark.parametrize(
    ("rate_change", "length_change"),
    [(-0.10, 0.11111), (-0.05, 0.05263), (0.05, -0.04762), (0.10, -0.09091)],
)
def test_at_one_belt_speed_rate_and_length_are_one_variable(
    rate_change: float, length_change: float
) -> None:
    before = step_length_m(3.0, 60.0 / 165.0)
    after = step_length_m(3.0, 60.0 / (165.0 * (1.0 + rate_change)))
    assert after / before - 1.0 == pytest.approx(length_change, abs=1e-5)


def test_a_step_is_half_a_stride() -> None:
    assert step_rate_spm(0.5 * 60.0 / 85.0) == pytest.approx(170.0)  # 85 strides a minute


def test_a_value_of_a_step_is_the_same_rate() -> None:
    step = Step(1, "left", True, 0.0, 0.0, step_time_s=0.36)
    assert step.step_rate_spm == step_rate_spm(0.36)


@given(st.floats(0.08, 0.6), st.floats(-0.3, 0.4))
def test_duty_factor_tells_flight_from_double_support(contact_s: float, flight_s: float) -> None:
    duty = duty_factor(contact_s, flight_s)
    if contact_s + flight_s <= 0.0:
        assert duty is None
    else:
        assert duty is not None
        assert (duty < 0.5) == (flight_s > 0.0) or duty == pytest.approx(0.5)


def test_measured_steps_keep_the_identities(trial_steps: list[Step]) -> None:
    """What the station tells of one step agrees with what it tells of the next one."""
    told = 0
    for step, following in pairwise(trial_steps):
        if step.contact_s is None or step.flight_s is None or step.duty_factor is None:
            continue
        told += 1
        assert following.step_time_s == pytest.approx(step.contact_s + step.flight_s, abs=1e-9)
        assert step.duty_factor == pytest.approx(step.contact_s / 2.0 / following.step_time_s)
        assert following.step_length_m == pytest.approx(2.5 * following.step_time_s)
        assert step.duty_factor < 0.5
    assert told >= len(trial_steps) - 4


def test_the_real_trial_s_rhythm_is_the_force_plate_s(
    trial_steps: list[Step], plate_times_s: list[tuple[float, float]]
) -> None:
    """Contact 0.277 s, duty factor 0.362 (Fukuchi, Fukuchi & Duarte 2017, PeerJ 5:e3298)."""
    contacts = [leave - touch for touch, leave in plate_times_s]
    assert sum(contacts) / len(contacts) == pytest.approx(0.277, abs=0.001)
    told = [s for s in trial_steps if s.contact_s is not None and s.duty_factor is not None]
    mean_contact = sum(s.contact_s or 0.0 for s in told) / len(told)
    mean_duty = sum(s.duty_factor or 0.0 for s in told) / len(told)
    # Rivadulla 2021 (PLoS ONE 16:e0248608), the best case: contact time within 15 ms.
    assert mean_contact == pytest.approx(0.277, abs=0.015)
    assert mean_duty == pytest.approx(0.362, abs=0.02)


def test_usual_step_time_of_uneven_legs_is_half_a_stride() -> None:
    """Left to right 0.36 s, right to left 0.40 s: a median would be one or the other."""
    for count in (4, 8):
        assert usual_step_time_s([0.36, 0.40] * (count // 2)) == pytest.approx(0.38)


def test_a_missed_contact_does_not_slow_the_rate() -> None:
    steps = [0.36, 0.37, 0.73, 0.36, 0.37, 0.12, 0.36]  # one missed, one told twice
    assert usual_step_time_s(steps) == pytest.approx(0.364)


def test_a_run_without_any_rhythm_has_a_middle() -> None:
    assert usual_step_time_s([0.30, 0.75, 0.30, 0.75]) == pytest.approx(0.525)


def test_shown_rate_is_the_force_plate_s(
    trial_poses: list[Pose], plate_times_s: list[tuple[float, float]]
) -> None:
    """At 170 a minute, runners notice 2.55 (1.5 %; Drake & Botte 1993)."""
    meter = GaitMeter(TRIAL_VIEW, Belt(2.5))
    noisy = add_noise(trial_poses[:600], 0.010, 360.0, 3)
    touches = np.array([touch for touch, _ in plate_times_s])
    off = []
    told = 0
    for pose in noisy:
        seen = meter.push(pose)
        told += len(seen.landings)
        if seen.step_rate_spm is not None:  # of the last steps, eight at most
            steps_s = np.diff(touches[max(told - 9, 0) : told])
            off.append(seen.step_rate_spm - 60.0 / steps_s.mean())
    assert abs(np.median(off)) <= 0.5
    assert np.abs(off).max() < 2.55
