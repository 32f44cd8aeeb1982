"""The pulse is drawn for the instant at which it is seen, and never waits for the camera."""

from __future__ import annotations

import pytest

from station.live.beats import BeatLog
from station.live.pulse_timing import EARLY_S, STILL_S, PulseTiming
from station.values import Heard

PERIOD_S = 1.0 / 3.0
DRAW_S = 0.012


def timing(*beats_s: float, draw_s: float = DRAW_S) -> PulseTiming:
    beats = BeatLog()
    beats.add(Heard("beat", t_s, None, PERIOD_S) for t_s in beats_s)
    made = PulseTiming(beats)
    made.drawn(0.0, draw_s)
    return made


def test_a_picture_stands_for_when_it_will_be_seen() -> None:
    assert timing().ahead_s == pytest.approx(DRAW_S + EARLY_S)


def test_on_stream_time_nothing_is_drawn_ahead_or_again() -> None:
    still = timing(1.0, draw_s=0.0)
    assert still.ahead_s == 0.0
    assert not still.due(1.0)
    assert not still.holds(0.999)


def test_the_wait_ends_when_the_beat_must_be_drawn() -> None:
    made = timing(1.0)
    made.drawn(0.9, 0.9 + DRAW_S)
    assert made.wait_s(0.92, 0.02) == 0.02
    begin_s = 1.0 - DRAW_S - EARLY_S / 2.0
    assert made.wait_s(begin_s - 0.003, 0.02) == pytest.approx(0.003)
    assert made.wait_s(1.1, 0.02) == 0.0


def test_a_beat_is_due_once() -> None:
    made = timing(1.0)
    made.drawn(0.9, 0.9 + DRAW_S)
    assert not made.due(0.95)
    assert made.due(0.99)
    made.drawn(0.99, 0.99 + DRAW_S)
    assert not made.due(0.995)
    assert made.due(1.0 + PERIOD_S - DRAW_S)  # the next follows from the period


def test_a_lit_disc_does_not_stay_until_the_next_beat() -> None:
    made = timing(1.0)
    made.drawn(0.99, 0.99 + DRAW_S)
    again_s = 0.99 + DRAW_S + STILL_S
    assert not made.due(again_s - 0.001)
    assert made.due(again_s + 0.001)
    assert made.wait_s(again_s - 0.003, 0.02) == pytest.approx(0.003)


def test_a_picture_that_would_stand_in_the_way_of_a_beat_is_held() -> None:
    made = timing(1.0)
    last_s = 1.0 - DRAW_S - EARLY_S  # a picture begun here shows the beat
    assert made.holds(last_s - 0.5 * DRAW_S)
    assert not made.holds(last_s - 1.5 * DRAW_S)
    assert not made.holds(last_s + 0.001)


def test_without_a_beat_nothing_changes() -> None:
    made = timing()
    assert made.wait_s(5.0, 0.02) == 0.02
    assert not made.due(5.0)
    assert not made.holds(5.0)


def test_a_beat_that_was_turned_off_is_not_waited_for() -> None:
    made = timing(1.0)
    made.drawn(1.0 + 1.5 * PERIOD_S, 1.0 + 1.5 * PERIOD_S + DRAW_S)
    assert made.wait_s(2.0, 0.02) == 0.02
    assert not made.due(2.0)


def test_the_next_beat_is_the_one_that_is_known_else_one_period_on() -> None:
    beats = BeatLog()
    assert beats.next_s(0.0) is None
    beats.add([Heard("beat", 1.0, None, 0.5), Heard("beat", 1.5, None, 0.4)])
    assert beats.next_s(0.2) == 1.0
    assert beats.next_s(1.0) == 1.5
    assert beats.next_s(1.6) == pytest.approx(1.9)
    assert beats.next_s(1.95) is None
