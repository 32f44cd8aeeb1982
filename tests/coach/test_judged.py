"""Judged landings come out as they went in, and an endless drill's take little room."""

from __future__ import annotations

import tracemalloc

from station.coach.judged import JudgedLandings


def test_they_come_out_as_they_went_in() -> None:
    judged = JudgedLandings()
    assert (len(judged), list(judged), list(judged.readings())) == (0, [], [])
    judged.add(0.25, True, 4.5)
    judged.add(0.5, False, None)
    judged.add(1.0, False, -2.0)
    assert len(judged) == 3
    assert list(judged) == [(0.25, True), (0.5, False), (1.0, False)]
    assert list(judged.readings()) == [(0.25, 4.5), (1.0, -2.0)]
    assert judged.verdicts() == ["within", "ahead", "ahead"]


def test_eight_hours_of_them_take_less_than_two_megabytes() -> None:
    tracemalloc.start()
    try:
        judged = JudgedLandings()
        for number in range(8 * 10_800):  # at 180 steps a minute
            judged.add(number / 3.0, number % 3 > 0, number % 17 + 0.5)
        taken, _ = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert taken < 2e6
