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
