"""Each ready plan holds what its name promises."""

from __future__ import annotations

import itertools
import re

import pytest

from station.coach.baseline import same_belt
from station.coach.plan_dose import feedback_share, plan_hops, plan_seconds, seconds_of
from station.coach.plan_flags import plan_flags
from station.coach.programmes import programme_faults, programmes
from station.settings import read_plan
from station.settings.resources import names, resource
from station.values import Bay

NAMES = names("config/plans")
MPH = 0.44704
PROGRAMME = [f"programme-{visit}" for visit in range(1, 9)]
STANDING_ALONE = {
    "baseline", "demo", "first-visit", "hops-into-running", "lean", "rate-test", "rate-up",
    "retention", "same-rate-faster-belt",
}  # fmt: skip


def shipped(name):
    return read_plan(resource(f"config/plans/{name}.toml"), Bay())


def runs(plan):
    return [drill for drill in plan.drills if drill.kind == "run"]


def mph(drill):
    return round(drill.belt_speed_mps / MPH, 6)


def test_all_that_is_promised_is_shipped():
    assert {*STANDING_ALONE, *PROGRAMME} <= set(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_nothing_in_a_shipped_plan_is_to_be_looked_at_twice(name):
    assert [str(flag) for flag in plan_flags(shipped(name))] == []


@pytest.mark.parametrize("name", NAMES)
def test_a_coach_finds_what_it_is_for_at_the_top_of_the_file(name):
    text = resource(f"config/plans/{name}.toml").read_text(encoding="utf-8")
    assert text.startswith("# ")
    assert max(map(len, text.splitlines())) <= 100
    assert not re.search(r"injur|prevent|under the knee", text, re.IGNORECASE)


def test_the_baseline_lets_the_runner_settle_and_be():
    plan = shipped("baseline")
    settle, *measured = runs(plan)
    assert settle.seconds == 360  # novices need about six minutes (check values 15.17, from memory)
    assert [mph(drill) for drill in measured] == [6, 8, 10]  # those of the ladder
    assert all(drill.gives_baseline and not drill.guides for drill in runs(plan))
    assert not any(same_belt(settle.belt, drill.belt) for drill in measured)


def test_the_ladder_goes_6_8_10_at_180_by_mastery_alone():
    plan = shipped("same-rate-faster-belt")
    rungs = [drill for drill in plan.drills if drill.advance is not None]
    assert [mph(drill) for drill in rungs] == [6, 8, 10]
    assert {drill.step_rate.spm for drill in plan.drills if drill.step_rate} == {180.0}
    for rung in rungs:
        assert rung.otherwise == "step back"
        assert rung.advance.seconds >= 120
        assert rung.advance.uncued_seconds >= 30
        i = plan.drills.index(rung)
        before = [d for d in plan.drills[:i] if d.gives_baseline and same_belt(d.belt, rung.belt)]
        assert before, "each rung's limit is the runner's own at its speed"


def test_the_rate_goes_up_by_5_and_10_percent_at_one_speed():
    plan = shipped("rate-up")
    asked = [drill for drill in plan.drills if drill.step_rate]
    assert [drill.step_rate.change_percent for drill in asked] == [5.0, 10.0]
    assert len({drill.belt_speed_mps for drill in asked}) == 1
    assert all(drill.advance for drill in asked)


def test_the_rate_test_is_short_blocks_at_one_speed_without_cues():
    blocks = [drill for drill in shipped("rate-test").drills if drill.rate_test]
    rates = [drill.step_rate.change_percent for drill in blocks]
    assert rates == sorted(set(rates))
    assert len(rates) >= 4
    assert {drill.seconds for drill in blocks} == {60.0}
    assert len({drill.belt_speed_mps for drill in blocks}) == 1
    assert {drill.feedback for drill in blocks} == {"off"}
    assert all(drill.beat for drill in blocks)


def test_hops_go_down_to_one_and_running_follows():
    plan = shipped("hops-into-running")
    hops = [i for i, drill in enumerate(plan.drills) if drill.kind == "hop"]
    for i in hops:
        assert plan.drills[i].hops == (8, 4, 3, 2, 1)
        assert plan.drills[i].belt_speed_mps <= 4 * MPH
        assert plan.drills[i + 1].kind == "run"
    assert {plan.drills[i].first_foot for i in hops} == {"left", "right"}
    assert plan_hops(plan) == 72


def test_the_lean_faces_both_ways_on_the_waist_belt_with_a_coach():
    plan = shipped("lean")
    leans = [drill for drill in plan.drills if drill.kind == "lean"]
    assert [drill.runner_faces for drill in leans] == ["front", "rear"]
    assert all(drill.waist_belt and drill.attended for drill in leans)
    assert leans[1].belt is None  # nobody is carried backwards
    assert plan.needs_coach


def test_the_retention_check_has_no_feedback_of_any_kind():
    for drill in runs(shipped("retention")):
        assert drill.feedback == "off"
        assert (drill.beat, drill.guides, drill.view) == (False, False, False)


# --- the programme ------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def visits():
    return [shipped(name) for name in PROGRAMME]


def test_the_order_of_the_programme_is_in_its_files(visits):
    found = programmes([*visits[::-1], shipped("demo")])
    assert list(found) == ["Eight visits"]
    assert list(found["Eight visits"]) == visits
    assert [(plan.programme.visit, plan.programme.of) for plan in visits] == [
        (visit, 8) for visit in range(1, 9)
    ]
    assert programme_faults([shipped(name) for name in NAMES]) == []


def test_the_programmes_minutes_rise_evenly_to_180_in_all(visits):
    # 8 sessions from 15 to 30 minutes, rising evenly, are 180 minutes, inside the 177 to 196 of
    # programmes that lasted (Davis et al. 2020, PMC7083994; check values, section 7).
    minutes = [plan_seconds(plan) / 60.0 for plan in visits]
    assert sum(minutes) == pytest.approx(180.0, abs=1e-9)
    assert 177.0 <= sum(minutes) <= 196.0
    assert minutes == pytest.approx([15 + 15 * i / 7 for i in range(8)], abs=0.5 / 60.0 + 1e-9)
    assert minutes == sorted(minutes)


def test_feedback_is_full_in_the_first_half_and_fades_over_the_last(visits):
    # Check values, section 7: first session 100 %, never rising over the last half, last < 25 %.
    shares = [feedback_share(plan) for plan in visits]
    assert shares[:4] == [1.0] * 4
    assert shares[4] < 1.0
    assert shares[4:] == sorted(shares[4:], reverse=True)
    assert shares[-1] < 0.25


def test_beat_guides_and_view_fade_with_the_cues(visits):
    for plan in visits:
        for drill in runs(plan):
            on = {drill.feedback != "off", drill.beat, drill.guides, drill.view}
            assert len(on) == 1, f"{plan.name}, {drill.name}: all are feedback"


def test_the_first_visits_are_intervals_of_one_to_three_minutes_with_rests(visits):
    for plan in visits[:4]:
        kinds = [drill.kind for drill in plan.drills]
        assert ("run", "run") not in list(itertools.pairwise(kinds))
        assert all(60 <= seconds_of(drill) <= 180 for drill in runs(plan))


def test_each_visit_begins_with_its_own_baseline_at_the_speed_of_its_practice(visits):
    for plan in visits:
        first, *practice = runs(plan)
        assert first.gives_baseline
        assert all(same_belt(first.belt, drill.belt) for drill in practice)
        assert not plan.needs_coach
