"""Somebody else in view, and somebody else in the runner's place."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from station.coach.visit.company import Company
from station.coach.visit.same_body import FARTHEST_M, SameBody


def test_a_single_look_that_errs_changes_nothing() -> None:
    company = Company()
    assert [company.take(found) for found in (False, True, False, False, True)] == [None] * 5
    assert not company.present


def test_two_of_three_looks_tell_and_three_without_take_it_back() -> None:
    company = Company()
    changes = [company.take(f) for f in (True, False, True, False, True, False, False, False)]
    assert changes == [None, None, True, None, None, None, None, False]


@given(st.lists(st.booleans(), max_size=60))
def test_come_and_gone_take_turns_and_never_without_looks_that_say_so(looks) -> None:
    company, told = Company(), []
    for i, found in enumerate(looks):
        change = company.take(found)
        if change is not None:
            told.append(change)
            last = looks[max(0, i - 2) : i + 1]
            assert sum(last) >= 2 if change else sum(last) == 0
    assert told == [i % 2 == 0 for i in range(len(told))]


def test_a_jump_is_another_body_until_the_runner_is_found_again() -> None:
    same = SameBody()
    assert same.take(0.0, 1.0)
    assert not same.take(-1.4, 1.03)
    assert not same.take(-1.4, 1.8)
    assert same.take(0.1, 1.9)


def test_a_place_that_is_not_known_tells_nothing() -> None:
    same = SameBody()
    assert same.take(math.nan, 0.0)
    assert same.take(3.0, 0.1)
    same.forget()
    assert same.take(-3.0, 0.2)


@pytest.mark.parametrize("fps", [24.0, 60.0])
@given(belt_mps=st.floats(0.5, 6.0), lost=st.integers(0, 2))
def test_a_runner_whom_the_belt_carries_off_stays_the_runner(fps, belt_mps, lost) -> None:
    same = SameBody()
    for i in range(0, 40, 1 + lost):
        step_m = belt_mps * (1 + lost) / fps
        if step_m < FARTHEST_M:
            assert same.take(-belt_mps * i / fps, i / fps)
