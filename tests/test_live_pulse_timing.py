"""The pulse is drawn for the instant at which it is seen, and no picture stands in its way."""

from __future__ import annotations

import pytest

from station.live.beats import BeatLog
from station.live.pulse_timing import EARLY_S, HELD_MOST_S, STILL_S, PulseTiming
from station.values import Heard

PERIOD_S = 1.0 / 3.0
DRAW_S = 0.012
PULSE_S = 0.001


def timing(*beats_s: float, draw_s: float = DRAW_S) -> PulseTiming:
    beats = BeatLog()
    beats.add(Heard("beat", t_s, None, PERIOD_S) for t_s in beats_s)
    made = PulseTiming(beats)
    if draw_s:
        made.pulsed(-0.1, -0.1 + PULSE_S)
    made.drawn(0.0, draw_s)
    return made


def test_pictures_and_pulses_stand_for_when_they_are_seen() -> None:
    assert timing().ahead_s == pytest.approx(DRAW_S)
    assert timing().pulse_ahead_s == pytest.approx(PULSE_S + EARLY_S)


def test_on_stream_time_nothing_is_drawn_ahead_or_again_or_held() -> None:
    still = timing(1.0, draw_s=0.0)
    assert still.ahead_s == 0.0
    assert not still.due(1.0)
    assert not still.holds(0.999)


def test_the_wait_ends_when_the_pulse_must_be_drawn() -> None:
    made = timing(1.0)
    made.drawn(0.95, 0.95 + DRAW_S)
    assert made.wait_s(0.965, 0.02) == 0.02
    begin_s = 1.0 - PULSE_S - EARLY_S
    assert made.wait_s(begin_s - 0.003, 0.02) == pytest.approx(0.003)
    assert made.wait_s(1.1, 0.02) == 0.0


def test_a_beat_is_due_once() -> None:
    made = timing(1.0)
    made.drawn(0.95, 0.95 + DRAW_S)
    begin_s = 1.0 - PULSE_S - EARLY_S
    assert not made.due(begin_s - 0.001)
    assert made.due(begin_s)
    made.pulsed(begin_s, begin_s + PULSE_S)
    assert not made.due(begin_s + 0.001)
    assert made.due(1.0 + PERIOD_S - EARLY_S)  # the next follows from the period


def test_a_picture_that_shows_the_beat_makes_the_pulse_needless() -> None:
    made = timing(1.0)
    made.drawn(0.995, 0.995 + DRAW_S)
    assert not made.due(1.0)


def test_a_lit_disc_does_not_stay_until_the_next_beat() -> None:
    made = timing(1.0)
    made.pulsed(0.995, 0.995 + PULSE_S)
    again_s = 0.995 + PULSE_S + STILL_S
    assert not made.due(again_s - 0.001)
    assert made.due(again_s + 0.001)
    assert made.wait_s(again_s - 0.003, 0.02) == pytest.approx(0.003)


def test_a_picture_that_might_stand_in_the_way_of_a_pulse_is_held() -> None:
    made = timing(1.0)
    begin_s = 1.0 - PULSE_S - EARLY_S
    assert made.holds(begin_s - 0.5 * DRAW_S)
    assert not made.holds(begin_s - 1.5 * DRAW_S)
    made.pulsed(begin_s, begin_s + PULSE_S)
    assert not made.holds(begin_s + PULSE_S)


def test_as_slow_as_every_fifth_picture_is_allowed_for_but_not_without_bound() -> None:
    made = timing(1.0)
    for number in range(12):
        made.drawn(0.1, 0.1 + (0.030 if number % 3 == 0 else DRAW_S))
    begin_s = 1.0 - made.pulse_ahead_s
    assert made.ahead_s == pytest.approx(DRAW_S)
    assert made.holds(begin_s - 0.029)
    assert not made.holds(begin_s - 0.031)
    for _ in range(15):
        made.drawn(0.1, 0.4)
    assert not made.holds(begin_s - HELD_MOST_S - 0.001)


def test_without_a_beat_nothing_is_due() -> None:
    made = timing()
    assert not made.due(5.0)
    assert not made.holds(5.0)
    assert made.wait_s(5.0, 0.02) == 0.02


def test_a_beat_that_was_turned_off_is_not_waited_for() -> None:
    made = timing(1.0)
    made.pulsed(0.999, 1.0)
    assert made.wait_s(1.0 + 3 * PERIOD_S, 0.02) == 0.0  # the one that follows from the period
    made.drawn(3.0, 3.0 + DRAW_S)
    assert not made.due(3.2)
    assert not made.holds(3.2)
    assert made.wait_s(3.2, 0.02) == 0.02


def test_the_next_beat_is_the_one_that_is_known_else_one_period_on() -> None:
    beats = BeatLog()
    assert beats.next_s(0.0) is None
    beats.add([Heard("beat", 1.0, None, 0.5), Heard("beat", 1.5, None, 0.4)])
    assert beats.next_s(0.2) == 1.0
    assert beats.next_s(1.0) == 1.5
    assert beats.next_s(1.6) == pytest.approx(1.9)
    assert beats.next_s(1.95) is None
