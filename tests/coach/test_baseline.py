from __future__ import annotations

from dataclasses import replace

import pytest

from station.coach.baseline import Baselines, same_belt
from station.coach.verdict import Baseline, LegBaseline
from station.values import Belt, Step

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
    assert made.left == LegBaseline(17, 9.0, 1.0)  # all alike, each off by up to 1 deg
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


def test_the_last_untouched_drill_counts_and_what_came_before_was_settling(drill, run):
    settling = drill(name="settle", feedback="off", beat=False)
    baseline = drill(name="baseline", feedback="off", beat=False)
    held = Baselines()
    for landing in run(200, 13.0):
        held.add(landing, settling, SIX)
    for landing in run(10, 9.0, 70.0):
        held.add(landing, baseline, SIX)
    before = held.at(SIX)
    assert before is not None
    assert before.left.median_deg == 13.0, "the later drill has hardly begun"
    for landing in run(60, 9.0, 74.0):
        held.add(landing, baseline, SIX)
    assert held.at(SIX).left.median_deg == 9.0


def test_nothing_counts_before_the_runner_has_settled(drill, run):
    """It is running that counts: a coached drill at another speed settles as well."""
    untouched = drill(feedback="off", beat=False)
    held = Baselines(settle_s=60.0)
    for landing in run(120, 13.0):  # 40 s
        held.add(landing, drill(), SEVEN)
    for landing in run(90, 13.0, 300.0):  # 30 s, of which 20 settle; the wait between does not
        held.add(landing, untouched, SIX)
    for landing in run(90, 9.0, 330.0):
        held.add(landing, untouched, SIX)
    made = held.at(SIX)
    assert made.left.count + made.right.count == pytest.approx(30 + 90 - 6, abs=2)
    assert Baselines(settle_s=0.0).at(SIX) is None


def test_contact_time_of_each_leg_is_of_the_steps_that_count(drill, run):
    untouched = drill(feedback="off", beat=False)
    held = Baselines()
    for landing in run(60, 9.0):
        held.add(landing, untouched, SIX)
        contact_s = 0.25 if landing.side == "left" else 0.27
        step = Step(landing.number, landing.side, False, landing.t_contact_s, 0.0)
        held.step(replace(step, contact_s=contact_s))
    for number in range(900, 960):  # of a coached drill
        held.step(Step(number, "left", False, 99.0, 99.0, contact_s=0.4))
    made = held.at(SIX)
    assert (made.left.contact_s, made.right.contact_s) == (0.25, 0.27)
