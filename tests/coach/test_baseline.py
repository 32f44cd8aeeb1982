from __future__ import annotations

import pytest

from station.coach.baseline import Baselines, same_belt
from station.coach.verdict import Baseline, LegBaseline
from station.values import Belt

SIX = Belt(6 * 0.44704)
SEVEN = Belt(7 * 0.44704)


def test_settings_a_tenth_of_a_mile_apart_are_not_compared():
    assert same_belt(SIX, Belt(SIX.speed_mps + 0.01))
    assert not same_belt(SIX, Belt(6.1 * 0.44704))
    assert not same_belt(SIX, Belt(SIX.speed_mps, 1.0))


def test_only_untouched_drills_at_this_belt_give_a_baseline(drill, run):
    untouched = drill(feedback="off", beat=False)
    held = Baselines()
    for landing in run(40, 9.0):
        held.add(landing, untouched, SIX)
        held.add(landing, drill(feedback="off", beat=True), SEVEN)
        held.add(landing, untouched, None)
    made = held.at(SIX)
    assert made is not None
    assert made.left == LegBaseline(17, 9.0, 0.0)
    assert held.at(SEVEN) is None
    assert held.at(None) is None
    assert held.all() == (made,)


def test_what_is_kept_after_coaching_does_not_move_the_baseline(drill, run):
    untouched, coached = drill(feedback="off", beat=False), drill()
    held = Baselines()
    for landing in run(40, 9.0):
        held.add(landing, untouched, SIX)
    before = held.at(SIX)
    for landing in run(40, 4.0, 20.0):
        held.add(landing, coached, SIX)
    for landing in run(200, 4.0, 40.0):
        held.add(landing, untouched, SIX)
    assert held.at(SIX) == before


def test_an_earlier_visit_answers_until_this_session_knows_better(drill, run):
    old = Baseline(SIX, 160.0, LegBaseline(50, 12.0, 1.0), None)
    held = Baselines([old])
    assert held.at(SIX) is old
    for landing in run(40, 9.0, rate_spm=172.0):
        held.add(landing, drill(feedback="off", beat=False), SIX)
    made = held.at(SIX)
    assert made is not None
    assert made.step_rate_spm == pytest.approx(172.0)
