"""Which foot the beat's even places belong to."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.live.beats import NearBeat
from station.live.feet import AGREEING, FeetOnBeat
from station.values import Side, other


def near(number: int | None, share: float = -0.05) -> NearBeat:
    return NearBeat(share * 0.36, 0.36, number)


def run(feet: FeetOnBeat, first: int, count: int, even: Side = "left", share: float = 0.0) -> None:
    for number in range(first, first + count):
        feet.contact(even if number % 2 == 0 else other(even), near(number, share))


@pytest.mark.parametrize("even", ["left", "right"])
@pytest.mark.parametrize("first", [0, 7])
def test_two_strides_that_agree_name_the_places(even: Side, first: int) -> None:
    feet = FeetOnBeat()
    run(feet, first, AGREEING - 1, even)
    assert feet.even_foot is None
    run(feet, first + AGREEING - 1, 1, even)
    assert feet.even_foot == even


def test_a_runner_who_changes_over_is_followed_after_two_strides() -> None:
    feet = FeetOnBeat()
    run(feet, 0, 10, "left")
    run(feet, 11, AGREEING - 1, "right")  # one step let pass
    assert feet.even_foot == "left"
    run(feet, 20, 1, "right")
    assert feet.even_foot == "right"


def test_one_odd_contact_changes_nothing() -> None:
    feet = FeetOnBeat()
    run(feet, 0, 10, "left")
    for number in range(10, 40):
        odd = number % 3 == 0
        run(feet, number, 1, "right" if odd else "left")
    assert feet.even_foot == "left"


def test_a_missed_contact_does_not_matter() -> None:
    feet = FeetOnBeat()
    for number in (0, 1, 3, 6):
        run(feet, number, 1, "right")
    assert feet.even_foot == "right"


@settings(derandomize=True, database=None)
@given(share=st.floats(0.26, 0.5) | st.floats(-0.5, -0.26))
def test_contacts_between_two_places_name_nothing(share: float) -> None:
    feet = FeetOnBeat()
    run(feet, 0, 20, "left", share)
    assert feet.even_foot is None


def test_without_a_beat_nothing_is_known_and_another_beat_begins_anew() -> None:
    feet = FeetOnBeat()
    for _ in range(10):
        feet.contact("left", None)
        feet.contact("right", near(None))
    assert feet.even_foot is None
    run(feet, 0, 10)
    feet.forget()
    assert feet.even_foot is None
    run(feet, 10, AGREEING - 1)
    assert feet.even_foot is None
