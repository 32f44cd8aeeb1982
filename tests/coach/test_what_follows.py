"""What follows a drill: the ladder up and down, fatigue, the question, and the end."""

from __future__ import annotations

import pytest

from station.coach.commands import (
    AnswerFelt,
    ChangeBelt,
    ChangeLimit,
    ChangeRate,
    ConfirmBelt,
    NextDrill,
    Pause,
    RepeatDrill,
    Resume,
    SetFeedback,
)
from station.coach.events import EVENT_KINDS, EventLog
from station.coach.fatigue import shows_fatigue
from station.coach.plan import Gate, Plan, StepRate
from station.coach.progress import SessionProgress
from station.values import Step

MPH = 0.44704
STEP_S = 1.0 / 3.0
GATE = Gate(0.9, 20.0, landings=20, uncued_seconds=5.0)


def rungs(drill, otherwise, speeds=(6, 8, 10), **changes):
    return Plan(
        "Ladder",
        tuple(
            drill(
                name=f"{mph}", belt_speed_mps=mph * MPH, belt_speed_text=f"{mph} mph",
                seconds=60.0, advance=GATE, otherwise=otherwise, **changes,
            )
            for mph in speeds
        ),
    )  # fmt: skip


def run_plan(progress, landing, good, most_s=3600.0, each=None):
    """Run with a belt that is set at once; `good` says whether a landing is within."""
    t_s, i, run, names = 0.0, 0, 0, []
    progress.advance(0.0)
    seen = 0
    while not progress.done and t_s < most_s:
        i += 1
        t_s += STEP_S
        progress.advance(t_s)
        if progress.belt_waits:
            progress.command(ConfirmBelt(), t_s)
        for event in progress.log.since(seen):
            seen += 1
            if event.kind == "drill started":
                names.append(dict(event.values)["name"])
                run += 1
        side = ("left", "right")[i % 2]
        verdict = "within" if good(progress, run, side) else "ahead"
        progress.landing(landing(t_s, side, number=i), verdict)
        if each is not None:
            each(t_s)
    for event in progress.log.since(seen):
        if event.kind == "drill started":
            names.append(dict(event.values)["name"])
    return names


def ended(progress):
    return [event.why for event in progress.events if event.kind == "session ended"]


def test_the_ladder_goes_up_after_mastery_of_both_legs(drill, landing):
    progress = SessionProgress(rungs(drill, "step back"), 0.0)
    assert run_plan(progress, landing, lambda p, run, side: True) == ["6", "8", "10"]
    whys = [e.why for e in progress.events if e.kind == "drill ended"]
    assert whys == ["mastered"] * 3
    assert ended(progress) == ["plan done"]


@pytest.mark.parametrize("bad", ["left", "right"])
def test_one_leg_that_fails_at_a_speed_steps_back_twice_and_never_goes_faster(drill, landing, bad):
    progress = SessionProgress(rungs(drill, "step back"), 0.0)
    names = run_plan(
        progress, landing, lambda p, run, side: p.drill.name != "8" or side != bad
    )  # fmt: skip
    assert names == ["6", "8", "6", "8", "6", "8"]
    assert ended(progress) == ["not mastered"]
    assert [e.why for e in progress.events if e.kind == "drill started"][2:4] == [
        "step back", "mastered",
    ]  # fmt: skip


def test_lost_once_it_is_climbed_again(drill, landing):
    progress = SessionProgress(rungs(drill, "step back"), 0.0)
    names = run_plan(progress, landing, lambda p, run, side: run != 2)
    assert names == ["6", "8", "6", "8", "10"]
    assert ended(progress) == ["plan done"]


def test_the_first_rung_has_none_below_and_is_repeated_once(drill, landing):
    progress = SessionProgress(rungs(drill, "step back"), 0.0)
    assert run_plan(progress, landing, lambda *_: False) == ["6", "6"]
    assert ended(progress) == ["not mastered"]


def test_the_end_of_the_plan_that_is_no_faster_is_still_run(drill, landing):
    plan = rungs(drill, "step back", (6, 8, 10))
    calm = drill(name="calm", belt_speed_mps=5 * MPH, belt_speed_text="5 mph", seconds=10.0)
    progress = SessionProgress(Plan("P", (*plan.drills, calm)), 0.0)
    names = run_plan(progress, landing, lambda p, run, side: p.drill.name != "8")
    assert names == ["6", "8", "6", "8", "6", "8", "calm"]
    assert ended(progress) == ["plan done"]


@pytest.mark.parametrize(
    ("otherwise", "names", "why"),
    [
        ("repeat", ["6", "6", "8", "8", "10", "10"], "plan done"),
        ("go on", ["6", "8", "10"], "plan done"),
        ("end", ["6"], "not mastered"),
    ],
)
def test_what_the_plan_says_is_done(drill, landing, otherwise, names, why):
    progress = SessionProgress(rungs(drill, otherwise), 0.0)
    assert run_plan(progress, landing, lambda *_: False) == names
    assert ended(progress) == [why]


def test_no_cue_is_wanted_in_the_proof_only(drill, landing):
    progress = SessionProgress(rungs(drill, "end", (6,)), 0.0)
    silent = []
    run_plan(progress, landing, lambda *_: True, each=lambda t_s: silent.append(progress.proving))
    assert silent.count(True) == pytest.approx(5.0 / STEP_S, abs=1)
    assert silent[-1] is False
    assert [e.why for e in progress.events if e.kind == "proving"]


def test_tired_landings_are_not_repeated_but_rested(drill, landing):
    progress = SessionProgress(rungs(drill, "repeat", (6, 8, 6)), 0.0)
    states = []
    names = run_plan(
        progress,
        landing,
        lambda p, run, side: run != 2 or p.elapsed_s < 15.0,
        each=lambda t_s: states.append((progress.state, progress.status().seconds_left)),
    )
    assert names == ["6", "8", "6"]
    kinds = [event.kind for event in progress.events]
    assert "fatigue" in kinds
    assert "rest asked" in kinds
    left_s = [left for state, left in states if state == "rest"]
    assert len(left_s) == pytest.approx(60.0 / STEP_S, abs=2)
    assert left_s == sorted(left_s, reverse=True)
    assert left_s[0] == pytest.approx(60.0, abs=1.0)
    assert left_s[-1] < 1.0


def test_tired_with_nothing_slower_to_come_the_session_ends(drill, landing):
    progress = SessionProgress(rungs(drill, "step back", (6, 8)), 0.0)
    run_plan(progress, landing, lambda p, run, side: run != 2 or p.elapsed_s < 15.0)
    assert ended(progress) == ["fatigue"]


@pytest.mark.parametrize(
    ("early", "late", "share", "tired"),
    [
        (1.0, 0.75, 0.9, True),
        (1.0, 0.85, 0.9, False),  # worse by less than 0.2
        (0.7, 0.45, 0.9, True),
        (1.0, 0.8, 0.8, False),  # still what is asked for
        (0.5, 1.0, 0.9, False),
    ],
)
def test_fatigue_is_a_last_third_much_worse_than_the_first(early, late, share, tired):
    def third(start, good):
        return [(start + 0.4 * i, i < round(good * 40)) for i in range(40)]

    judged = third(0.0, early) + third(20.0, 0.0) + third(41.0, late)
    assert shows_fatigue(judged, 60.0, share) is tired
    assert not shows_fatigue(judged[:10] + judged[-10:], 60.0, share)


@pytest.mark.parametrize(("more_deg", "tired"), [(0.0, False), (0.5, False), (1.5, True)])
def test_a_leg_at_its_limit_is_not_tired_unless_it_reaches_further(more_deg, tired):
    """One and the same run of verdicts; what was read beside them tells the two apart."""
    judged = [(0.4 * i, i < 75 or i % 2 == 0) for i in range(150)]
    readings = [(at_s, 8.0 + (more_deg if at_s > 30.0 else 0.0) + i % 3) for i, (at_s, _) in
                enumerate(judged)]  # fmt: skip
    assert shows_fatigue(judged, 60.0, 0.9)
    assert shows_fatigue(judged, 60.0, 0.9, readings) is tired


def test_the_question_after_a_drill_its_answer_and_the_truth(drill, landing):
    plan = Plan("P", (drill(name="A", seconds=20.0, ask_felt=True), drill(name="B")))
    progress = SessionProgress(plan, 0.0)
    progress.advance(0.0)
    for i in range(59):
        progress.landing(landing((i + 1) * STEP_S), "ahead" if i % 5 == 0 else "within")
    progress.advance(20.0)
    assert progress.state == "felt"
    assert progress.felt.status.good_of_ten is None
    assert progress.felt.status.within is None
    assert progress.beat_spm() is None
    progress.landing(landing(21.0), "ahead")
    progress.command(AnswerFelt(11), 22.0)
    progress.command(AnswerFelt(7), 23.0)
    progress.command(AnswerFelt(3), 24.0)
    assert (progress.felt.status.good_of_ten, progress.felt.status.within) == (7, 8)
    progress.advance(26.9)
    assert progress.state == "felt"
    progress.advance(27.0)
    assert (progress.state, progress.drill.name) == ("drill", "B")
    answer = [e.as_dict() for e in progress.events if e.kind == "felt answered"]
    assert [(e["good_of_ten"], e["within"], e["judged"]) for e in answer] == [(7, 47, 59)]


def test_a_question_nobody_answers_and_one_in_a_pause(drill, landing):
    plan = Plan("P", (drill(seconds=20.0, ask_felt=True), drill(ask_felt=True, seconds=20.0)))
    progress = SessionProgress(plan, 0.0)
    progress.advance(0.0)
    progress.landing(landing(1.0), "within")
    progress.advance(30.0)
    progress.command(Pause(), 30.0)
    progress.command(Resume(), 130.0)
    progress.advance(139.9)
    assert progress.state == "felt"
    progress.advance(140.0)
    assert progress.number == 2
    progress.advance(160.0)  # nothing was judged: nothing is asked
    assert progress.done


def test_repeat_limit_and_feedback_stay_with_their_drill(drill):
    progress = SessionProgress(Plan("P", (drill(), drill())), 0.0)
    progress.advance(0.0)
    progress.command(ChangeLimit(0.5), 1.0)
    progress.command(ChangeLimit(0.5), 2.0)
    progress.command(SetFeedback(False), 3.0)
    progress.command(RepeatDrill(), 4.0)
    assert (progress.number, progress.elapsed_s) == (1, 0.0)
    assert (progress.limit_by_deg, progress.feedback_on) == (1.0, False)
    progress.command(NextDrill(), 5.0)
    assert (progress.limit_by_deg, progress.feedback_on) == (0.0, True)
    for _ in range(100):
        progress.command(ChangeLimit(-0.5), 6.0)
    assert progress.limit_by_deg == -10.0
    coach = [e.as_dict() for e in progress.events if e.kind == "coach"]
    assert len(coach) == 105
    assert coach[0] == {
        "t_s": 1.0, "kind": "coach", "why": "change limit", "number": 1, "by_deg": 0.5,
    }  # fmt: skip


def test_the_coach_does_not_raise_rate_and_belt_within_a_minute(drill):
    plan = Plan("P", (drill(step_rate=StepRate(spm=170.0), seconds=600.0),))
    progress = SessionProgress(plan, 0.0)
    progress.advance(0.0)
    progress.command(ChangeRate(1.0), 10.0)
    progress.command(ChangeBelt(1), 12.0)
    assert progress.belt.speed_mps == pytest.approx(6 * MPH)
    progress.command(ChangeBelt(-1), 13.0)  # down is free
    progress.command(ChangeBelt(1), 71.0)
    progress.command(ChangeRate(1.0), 72.0)
    assert progress.target_spm() == 171.0
    progress.command(ChangeRate(-1.0), 73.0)
    assert progress.target_spm() == 170.0
    assert [e.why for e in progress.events if e.kind == "refused"] == [
        "the step rate has just risen", "the belt speed has just risen",
    ]  # fmt: skip


def test_a_drill_that_has_both_higher_keeps_the_rate_back_for_a_minute(drill):
    quick = drill(belt_speed_mps=8 * MPH, belt_speed_text="8 mph", step_rate=StepRate(spm=180.0))
    plan = Plan("P", (drill(step_rate=StepRate(spm=170.0)), quick))
    progress = SessionProgress(plan, 0.0)
    progress.advance(0.0)
    progress.advance(60.0)
    progress.command(ConfirmBelt(), 60.0)
    progress.advance(119.0)
    assert progress.beat_spm() == 170.0
    assert "rate held" in [e.kind for e in progress.events]


@pytest.mark.parametrize("length", [{"steps": 30}, {"hops": (3, 2), "kind": "hop"}])
def test_a_drill_in_which_nobody_lands_ends_too(drill, length):
    progress = SessionProgress(Plan("P", (drill(seconds=None, **length),)), 0.0)
    progress.advance(0.0)
    progress.advance(1000.0)
    assert progress.done
    over = next(e for e in progress.events if e.kind == "drill ended")
    assert over.why == "time limit"
    assert over.t_s == {30: 90.0, (3, 2): 75.0}[length.get("steps") or length["hops"]]


def test_a_hop_drill_ends_after_its_last_round_and_running_begins(drill, landing):
    hops = drill(name="hops", kind="hop", seconds=None, hops=(3, 1), first_foot="right")
    progress = SessionProgress(Plan("P", (hops, drill(name="run"))), 0.0)
    progress.advance(0.0)
    told = []
    for i, side in enumerate("rrrlllrl"):
        told.append((progress.status().hop.foot[0], progress.status().hop.hops_left))
        foot = {"r": "right", "l": "left"}[side]
        progress.landing(landing(0.5 * (i + 1), foot), None)
    assert told == [*zip("rrrlllrl", (3, 2, 1, 3, 2, 1, 1, 1), strict=True)]
    assert progress.drill.name == "run"
    assert progress.status().hop is None


def test_overload_is_told_and_a_rest_asked_after_twenty_seconds_more(drill, landing):
    progress = SessionProgress(Plan("P", (drill(seconds=300.0),)), 0.0)
    progress.advance(0.0)
    for t_s in range(10, 60):
        progress.advance(float(t_s))
        if t_s == 20:
            progress.command(Pause(), 20.0)
        if t_s == 30:
            progress.command(Resume(), 30.0)
        progress.overload(t_s < 50)
    told = [(e.t_s, e.kind) for e in progress.events if e.kind in (
        "cues stopped", "rest asked", "cues back")]  # fmt: skip
    assert told == [(10.0, "cues stopped"), (40.0, "rest asked"), (50.0, "cues back")]
    assert not progress.rest_wanted


def test_a_dive_onto_the_toes_blocks_mastery_only_where_the_strike_is_a_target(drill, landing):
    ends = []
    for target in (None, "forefoot"):
        progress = SessionProgress(rungs(drill, "end", (6,), strike_target=target), 0.0)
        count = iter(range(1, 10_000))

        def dive(t_s, progress=progress, count=count):
            number = next(count)
            progress.step(Step(number, "left", False, t_s, t_s, toe_dive=number % 4 == 0))

        run_plan(progress, landing, lambda *_: True, each=dive)
        ends += ended(progress)
    assert ends == ["plan done", "not mastered"]


def test_an_event_of_no_known_kind_is_a_fault():
    with pytest.raises(ValueError, match="no kind of event"):
        EventLog().note(0.0, "something", "")
    assert all(text for text in EVENT_KINDS.values())
