"""Every ready plan, run to its end by a simulated runner, hours in seconds."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import pytest
from courses import BELT_SET_S, Course, run_course

from station.coach.plan import Drill, Plan
from station.coach.plan_dose import plan_seconds, seconds_of
from station.settings import read_plan
from station.simulate.belt import RAMP_MPS2
from station.simulate.landings import LandingRunner, QuickListening

FOLDER = Path(__file__).resolve().parents[2] / "config" / "plans"
PLANS = sorted(path.stem for path in FOLDER.glob("*.toml"))
COUNTDOWN_S = 3.0
BELT_SURE_S = 2.0
"""How long the belt must be seen to run as asked."""
UNSURE_S = 30.0
"""How long is waited for a belt that cannot be measured and that nobody says is set."""
FELT_S = 24.0
"""The question how many landings were good, and the count after it."""


@lru_cache
def plan_of(name: str) -> Plan:
    return read_plan(FOLDER / f"{name}.toml")


@lru_cache
def course_of(name: str) -> Course:
    return run_course(plan_of(name), LandingRunner(None, QuickListening()))


def waits_s(plan: Plan) -> float:
    """Return the most that a plan stands still: while the belt is set, and for the felt answers."""
    total_s = 0.0
    for before, drill in zip((None, *plan.drills), plan.drills, strict=False):
        total_s += FELT_S if drill.ask_felt else 0.0
        if before is None or before.belt == drill.belt:
            continue
        total_s += max(UNSURE_S, BELT_SET_S + BELT_SURE_S + _ramp_s(before, drill))
    return total_s


def _ramp_s(before: Drill, drill: Drill) -> float:
    return abs((before.belt_speed_mps or 0.0) - (drill.belt_speed_mps or 0.0)) / RAMP_MPS2


def test_there_are_plans() -> None:
    assert len(PLANS) >= 7


@pytest.mark.parametrize("name", PLANS)
def test_the_plan_runs_to_its_end(name: str) -> None:
    plan, course = plan_of(name), course_of(name)
    assert course.ended == "plan done"
    assert {run.number for run in course.coaching.runs} == set(range(1, len(plan.drills) + 1))
    assert set(course.whys) <= {"length", "mastered"}
    assert course.falls


@pytest.mark.parametrize("name", PLANS)
def test_it_takes_no_longer_than_it_says_and_than_it_waits(name: str) -> None:
    """Drills that were run again for want of mastery count as often as they were run."""
    plan, course = plan_of(name), course_of(name)
    again = [run.drill for run in course.coaching.runs]
    for drill in plan.drills:
        again.remove(drill)
    most_s = COUNTDOWN_S + plan_seconds(plan) + waits_s(plan)
    most_s += sum(seconds_of(drill) + UNSURE_S + FELT_S for drill in again)
    assert course.seconds <= most_s + 1.0
    for run in course.coaching.runs:
        assert run.ended_s is not None
        length_s = seconds_of(run.drill) * (1.0 if run.drill.seconds else 1.5)
        assert run.ended_s - run.began_s <= length_s + UNSURE_S + FELT_S + 1.0


@pytest.mark.parametrize("name", PLANS)
def test_no_belt_beyond_the_plan_is_asked_and_no_cue_where_none_belongs(name: str) -> None:
    plan, course = plan_of(name), course_of(name)
    most_mps = max(drill.belt_speed_mps or 0.0 for drill in plan.drills)
    assert max(mps for _, mps in course.belts) <= most_mps + 1e-9
    for one in course.coaching.judged:
        cues = one.run is not None and one.run.drill.feedback in ("every step", "fading")
        assert one.t_cue_s is None or (cues and one.verdict == "ahead")


@pytest.mark.parametrize("name", PLANS)
def test_what_was_measured_in_it_is_what_the_runner_did(name: str) -> None:
    """The recorded steps are the true ones, leg by leg, and the target rate is kept."""
    course = course_of(name)
    assert [row.step.side for row in course.rows] == [fall.true.side for fall in course.falls]
    for run in course.coaching.runs:
        if run.drill.kind != "run" or not run.drill.beat or run.target_spm is None:
            continue
        if (run.ended_s or 0.0) - run.began_s < 60.0:
            continue
        assert run.summary().step_rate_spm == pytest.approx(run.target_spm, rel=0.02), (
            run.drill.name
        )
