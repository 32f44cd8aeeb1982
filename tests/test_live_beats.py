"""How far a step is from its beat."""

from __future__ import annotations

import pytest

from station.live.beats import BeatLog
from station.values import Heard


def beats(*times_s: float, period_s: float = 0.4) -> BeatLog:
    log = BeatLog()
    log.add([Heard("beat", t, period_s=period_s) for t in times_s])
    return log


@pytest.mark.parametrize(
    ("t_s", "offset_s"),
    [
        (1.0, 0.0),
        (1.03, 0.03),
        (0.98, -0.02),
        (1.39, -0.01),
        (1.21, -0.19),
        (1.19, 0.19),
        (1.59, 0.19),  # after the last beat, within half a period
        (1.61, None),  # the beat has stopped
        (0.79, None),  # it had not begun
    ],
)
def test_offset_from_the_nearest_beat(t_s: float, offset_s: float | None) -> None:
    found = beats(1.0, 1.4).offset_s(t_s)
    assert found == (None if offset_s is None else pytest.approx(offset_s))


def test_no_beat_no_offset() -> None:
    assert BeatLog().offset_s(1.0) is None
    assert BeatLog().last(1.0) is None


def test_a_tempo_that_slows_leaves_no_gap_between_two_beats() -> None:
    log = BeatLog()
    log.add([Heard("beat", 1.0, period_s=0.40), Heard("beat", 1.5, period_s=0.50)])
    assert log.offset_s(1.24) == pytest.approx(0.24)


def test_a_pause_between_two_beats_has_no_offset() -> None:
    assert beats(1.0, 5.0).offset_s(3.0) is None


def test_cues_are_no_beats_and_beats_told_twice_count_once() -> None:
    log = beats(1.0)
    log.add([Heard("ahead", 1.1, "left"), Heard("beat", 1.0, period_s=0.4)])
    assert log.last(1.2) == (1, pytest.approx(0.2), 0.4)


def test_a_beat_that_is_only_to_come_is_not_the_last() -> None:
    assert beats(1.0, 1.4).last(1.3) == (1, pytest.approx(0.3), 0.4)


def test_numbers_go_on_when_old_beats_are_forgotten() -> None:
    log = BeatLog()
    log.add([Heard("beat", 0.3 * i, period_s=0.3) for i in range(5000)])
    number, age_s, _ = log.last(0.3 * 4999) or (0, 1.0, 0.0)
    assert number == 5000
    assert age_s == pytest.approx(0.0)


def strides(*times_s: float) -> BeatLog:
    """Return beats for one foot, and for the other one the silent places between them."""
    log = BeatLog()
    log.add(
        Heard("offbeat" if k % 2 else "beat", t_s, None, 0.4, k, 2) for k, t_s in enumerate(times_s)
    )
    return log


@pytest.mark.parametrize(
    ("t_s", "offset_s", "number"),
    [(1.0, 0.0, 0), (1.37, -0.03, 1), (1.45, 0.05, 1), (1.62, -0.18, 2), (2.19, -0.01, 3)],
)
def test_with_one_beat_per_stride_the_other_foot_has_its_place_between(
    t_s: float, offset_s: float, number: int
) -> None:
    near = strides(1.0, 1.4, 1.8, 2.2).nearest(t_s)
    assert near is not None
    assert near.offset_s == pytest.approx(offset_s)
    assert (near.number, near.period_s) == (number, 0.4)


def test_the_pulse_goes_with_the_beats_that_sound() -> None:
    log = strides(1.0, 1.4, 1.8, 2.2)
    assert log.last(1.3) == (1, pytest.approx(0.3), 0.8)
    assert log.last(1.5) == (1, pytest.approx(0.5), 0.8)
    assert log.last(1.79) == (1, pytest.approx(0.79), 0.8)
    assert log.last(1.8) == (2, pytest.approx(0.0), 0.8)
    assert log.last(2.5) == (2, pytest.approx(0.7), 0.8)
    assert log.step_s(1.5) == 0.4
    assert log.step_s(0.5) is None


def test_numbers_of_beats_that_sound_go_on_when_old_places_are_forgotten() -> None:
    log = strides(*(0.4 * k for k in range(5001)))
    assert log.last(2000.1) == (2501, pytest.approx(0.1), 0.8)
