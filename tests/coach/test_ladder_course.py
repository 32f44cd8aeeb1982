"""The ladder, gone through whole: up only after mastery of both legs, back when it is lost."""

from __future__ import annotations

import itertools
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from courses import Course, run_course

from station.coach.plan import Drill, Gate, Plan, StepRate
from station.settings import read_plan
from station.simulate.landing_ways import LandingWay
from station.simulate.landings import LandingRunner, QuickListening
from station.simulate.listening import ListeningParameters

MPH = 0.44704
LADDER = Path(__file__).resolve().parents[2] / "config" / "plans" / "same-rate-faster-belt.toml"
GATE = Gate(0.8, 40.0, landings=15, uncued_seconds=10.0)
DEAF = ListeningParameters(heeds=0.0, lapse_share=0.0)


def rung(mph: int, **also: Any) -> Drill:
    given: dict[str, Any] = {
        "seconds": 90.0,
        "belt_speed_mps": mph * MPH,
        "belt_speed_text": f"{mph} mph",
        "step_rate": StepRate(spm=180.0),
        "landing_limit_deg": 8.0,
        "advance": GATE,
        "otherwise": "step back",
        **also,
    }
    return Drill(f"{mph} mph", **given)


PLAN = Plan("Ladder", (rung(5, otherwise="go on"), rung(6), rung(7), rung(8)))


def runner(ears: ListeningParameters = DEAF, **way: Any) -> LandingRunner:
    given = {"shank_deg": 5.0, "belt_mps": 5 * MPH, "shank_per_mps": 0.0, "rate_spm": 178.0, **way}
    return LandingRunner(LandingWay(**given), QuickListening(ears))


def climbs(course: Course) -> list[tuple[Any, Any]]:
    """Every pair of runs in a row of which the second is the faster one."""
    runs = [run for run in course.coaching.runs if run.drill.kind == "run"]
    return [
        (one, two)
        for one, two in itertools.pairwise(runs)
        if (two.belt_mps or 0.0) > (one.belt_mps or 0.0)
    ]


def shares(course: Course, run: Any) -> dict[str, float]:
    """Each leg's share within over the gate's time at the end of a run."""
    end_s, window_s = run.ended_s, run.drill.advance.seconds
    found = {}
    for side in ("left", "right"):
        last = [
            one.verdict == "within"
            for one in course.coaching.judged
            if one.run is run and one.verdict is not None and one.landing.side == side
            and end_s - window_s < one.landing.t_contact_s <= end_s
        ]  # fmt: skip
        found[side] = sum(last) / len(last)
    return found


def test_who_masters_each_rung_climbs_to_the_top() -> None:
    course = run_course(PLAN, runner())
    assert course.names == ["5 mph", "6 mph", "7 mph", "8 mph"]
    assert set(course.whys) == {"mastered"}
    assert course.ended == "plan done"
    for run in course.coaching.runs:
        assert min(shares(course, run).values()) >= 0.8


@pytest.mark.parametrize("more_deg", [6.0, -6.0])
def test_one_leg_that_holds_does_not_lift_the_other(more_deg: float) -> None:
    """The worse leg lands ahead half of the time; the other one hardly ever."""
    course = run_course(PLAN, runner(shank_deg=6.5, right_more_deg=more_deg))
    assert course.names == ["5 mph", "6 mph", "5 mph", "6 mph", "5 mph", "6 mph"]
    assert "mastered" not in course.whys[1:]
    assert course.ended == "not mastered"
    worst, best = ("right", "left") if more_deg > 0 else ("left", "right")
    held = shares(course, course.coaching.runs[1])
    assert held[best] > 0.9
    assert held[worst] < 0.8


def test_when_it_is_lost_on_a_faster_belt_it_steps_back_and_up_again() -> None:
    """Within at 6 mph, ahead at 7: each time back to 6, mastered there, and up; twice at most."""
    course = run_course(PLAN, runner(shank_deg=4.0, belt_mps=6 * MPH, shank_per_mps=14.0))
    assert course.names == ["5 mph", "6 mph", "7 mph", "6 mph", "7 mph", "6 mph", "7 mph"]
    assert [why == "mastered" for why in course.whys] == [True, True, False] + [True, False] * 2
    assert course.ended == "not mastered"
    whys = [e.why for e in course.coaching.progress.events if e.kind == "drill started"]
    assert whys == [
        "plan begins", "mastered", "mastered", "step back", "mastered", "step back", "mastered",
    ]  # fmt: skip
    speeds = [mps for _, mps in course.belts]
    assert max(speeds) == pytest.approx(7 * MPH)  # never on to 8


def test_what_was_lost_is_found_again_and_the_ladder_goes_on() -> None:
    """A runner who learns from cues: 7 mph is lost at first, mastered after a step back."""
    ears = ListeningParameters(
        heeds=1.0, cue_deg=0.1, cue_spread_deg=0.0, habit_s=3600.0, lapse_share=0.0
    )
    learner = runner(ears, shank_deg=5.0, belt_mps=6 * MPH, shank_per_mps=11.5)
    course = run_course(PLAN, learner, far_leg_error_deg=1.5)
    assert course.names[:6] == ["5 mph", "6 mph", "7 mph", "6 mph", "7 mph", "8 mph"]
    mastered = [why == "mastered" for why in course.whys]
    assert mastered[:5] == [True, True, False, True, True]
    for one, _ in climbs(course):
        assert one.why == "mastered"


@pytest.mark.parametrize("way", [{}, {"shank_deg": 12.0}, {"right_more_deg": 6.0}])
def test_the_ready_ladder_climbs_only_after_mastery_of_both_legs(way: Any) -> None:
    """Rungs alone, half as long, without warm-up, rests and baselines; fixed limits instead."""
    rungs = tuple(
        replace(drill, landing_limit_deg=8.0, ask_felt=False, seconds=150.0)
        for drill in read_plan(LADDER).drills
        if drill.kind == "run" and drill.step_rate is not None
    )
    assert len(rungs) >= 4
    course = run_course(Plan("Rungs", rungs), runner(**way))
    assert course.ended in ("plan done", "not mastered")
    for one, two in climbs(course):
        if one.drill.advance is None:
            continue  # to find the beat asks for nothing
        assert one.why == "mastered", (one.drill.name, two.drill.name)
        assert min(shares(course, one).values()) >= one.drill.advance.share - 1e-9


def test_the_rate_must_be_held_too() -> None:
    """Within all the time, but 6 % slower than the beat: no rung is mastered."""
    slow = LandingRunner(LandingWay(shank_deg=4.0, rate_spm=169.0, rate_per_mps=0.0))
    course = run_course(PLAN, slow)
    assert "mastered" not in course.whys
    assert all(min(shares(course, run).values()) > 0.95 for run in course.coaching.runs)
