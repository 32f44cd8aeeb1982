"""Whatever plan, runner and coach there are: maxima, standstills, one thing at a time, an end."""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.coach.commands import (
    AnswerFelt,
    ChangeBelt,
    ChangeLimit,
    ChangeRate,
    ConfirmBelt,
    NextDrill,
    Pause,
    PreviousDrill,
    RepeatDrill,
    Resume,
    SetFeedback,
    SetSound,
)
from station.coach.plan import Drill, Gate, Plan, StepRate
from station.coach.progress import SessionProgress

MPH = 0.44704
FEW = settings(max_examples=40, deadline=None)
SPEEDS = st.sampled_from([None, 4, 6, 7, 8, 10])


@st.composite
def drills(draw):
    """Build a drill of any kind and length, with or without a gate."""
    kind = draw(st.sampled_from(["run", "run", "run", "hop", "rest"]))
    mph = draw(SPEEDS)
    if kind == "run" and mph is None:
        mph = 5
    length = draw(st.sampled_from(["seconds", "steps", "hops" if kind == "hop" else "seconds"]))
    sizes = {
        "seconds": draw(st.floats(5.0, 90.0)),
        "steps": draw(st.integers(1, 120)),
        "hops": tuple(draw(st.lists(st.integers(1, 8), min_size=1, max_size=4))),
    }
    gate = None
    if kind == "run" and draw(st.booleans()):
        gate = Gate(0.8, draw(st.sampled_from([5.0, 20.0])), 5, draw(st.sampled_from([0.0, 4.0])))
    return Drill(
        name="d",
        kind=kind,
        belt_speed_mps=None if mph is None else mph * MPH,
        belt_speed_text=None if mph is None else f"{mph} mph",
        step_rate=draw(st.sampled_from([None, StepRate(spm=170.0), StepRate(spm=180.0)])),
        advance=gate,
        otherwise=draw(st.sampled_from(["go on", "repeat", "step back", "end"])),
        ask_felt=draw(st.booleans()),
        **{length: sizes[length]},
    )


PLANS = st.lists(drills(), min_size=1, max_size=4).map(lambda made: Plan("P", tuple(made)))


class Session:
    """A runner, a belt that somebody may set, and a coach who presses keys, all by one seed."""

    def __init__(self, plan, landing, seed, pressed, **limits):
        self.progress = SessionProgress(plan, 3.0, **limits)
        self.landing, self.rng, self.pressed = landing, random.Random(seed), pressed
        self.good = self.rng.random()
        self.sets_belt = self.rng.random() < 0.7
        self.t_s, self.number = 0.0, 0

    def keys(self):
        return self.rng.choice([
            NextDrill(), PreviousDrill(), RepeatDrill(), Pause(), Resume(), Resume(),
            ChangeRate(self.rng.choice([-5.0, 5.0])), ChangeBelt(self.rng.choice([-3, 3, 8])),
            ConfirmBelt(), ChangeLimit(0.5), SetFeedback(False), SetSound(True), AnswerFelt(7),
        ])  # fmt: skip

    def move(self):
        """Go on by a third of a second; return what was asked of the coach's keys."""
        progress, rng = self.progress, self.rng
        self.t_s += 1.0 / 3.0
        self.number += 1
        progress.advance(self.t_s)
        asked = progress.belt_asked
        progress.see_belt(asked.speed_mps if asked and self.sets_belt else None, self.t_s)
        key = self.keys() if rng.random() < self.pressed else None
        if key is not None:
            progress.command(key, self.t_s)
        side = rng.choice(("left", "right")) if progress.drill.hops else (
            ("left", "right")[self.number % 2]
        )  # fmt: skip
        if rng.random() < 0.95:
            verdict = None if rng.random() < 0.1 else (
                "within" if rng.random() < self.good else "ahead"
            )  # fmt: skip
            progress.landing(self.landing(self.t_s, side, number=self.number), verdict)
        return key


@FEW
@given(plan=PLANS, seed=st.integers(0, 10**6))
def test_every_session_ends(plan, landing, seed):
    """Without keys it takes no longer than every drill three times, its waits and questions."""
    session = Session(plan, landing, seed, 0.0)
    bound_s = 0.0
    for drill in plan.drills:
        length_s = drill.seconds or (drill.steps or 0) + 60.0 + 1.5 * drill.hop_count
        bound_s += length_s + 30.0 + 24.0 + 60.0
    # two steps back from each drill, each running up to all drills before it again
    bound_s *= 1 + 3 * len(plan.drills)
    while not session.progress.done:
        session.move()
        assert session.t_s < bound_s + 3.0
    drilled = [e for e in session.progress.events if e.kind == "drill ended"]
    begun = [e for e in session.progress.events if e.kind == "drill started"]
    assert len(drilled) == len(begun)


@FEW
@given(plan=PLANS, seed=st.integers(0, 10**6))
def test_the_same_inputs_give_the_same_course(plan, landing, seed):
    courses = []
    for _ in range(2):
        session = Session(plan, landing, seed, 0.1)
        for _ in range(400):
            session.move()
        courses.append((session.progress.events, session.progress.status()))
    assert courses[0] == courses[1]


@FEW
@given(
    plan=PLANS,
    seed=st.integers(0, 10**6),
    bay=st.sampled_from([None, 5.0, 6.5, 20.0]),
    runner=st.sampled_from([None, 4.5, 7.2]),
)
def test_no_belt_speed_beyond_a_maximum_is_ever_asked(plan, landing, seed, bay, runner):
    known = [mph * MPH for mph in (bay, runner) if mph is not None]
    most = min(known, default=7.0)
    session = Session(
        plan, landing, seed, 0.4,
        belt_limit_mps=None if bay is None else bay * MPH,
        runner_belt_limit_mps=None if runner is None else runner * MPH,
    )  # fmt: skip
    for _ in range(300):
        session.move()
        belt = session.progress.belt
        assert belt is None or belt.speed_mps <= most + 1e-9
    for event in session.progress.events:
        if event.kind == "belt asked":
            speed = dict(event.values)["speed_mps"]
            assert speed is None or speed <= most + 1e-9


@FEW
@given(plan=PLANS, seed=st.integers(0, 10**6))
def test_without_keys_no_drill_asks_for_more_than_the_plan_says(plan, landing, seed):
    session = Session(plan, landing, seed, 0.0)
    for _ in range(600):
        session.move()
        assert session.progress.belt == session.progress.drill.belt


@FEW
@given(plan=PLANS, seed=st.integers(0, 10**6))
def test_nothing_counts_and_no_beat_sounds_while_time_stands_still(plan, landing, seed):
    session = Session(plan, landing, seed, 0.1)
    for _ in range(500):
        progress = session.progress
        before = (progress.number, progress.status(), progress.elapsed_s, len(progress.events))
        still = progress.paused or progress.belt_waits
        key = session.move()
        goes_on = not (progress.paused or progress.belt_waits)
        if still and key is None and not goes_on and before[0] == progress.number:
            now = progress.status()
            assert progress.elapsed_s == pytest.approx(before[2], abs=1e-9)
            assert (now.share_within, now.steps_left, now.hop) == (
                before[1].share_within, before[1].steps_left, before[1].hop,
            )  # fmt: skip
            assert progress.beat_spm() is None


@FEW
@given(plan=PLANS, seed=st.integers(0, 10**6), pressed=st.sampled_from([0.0, 0.3]))
def test_rate_and_speed_never_rise_in_one_step(plan, landing, seed, pressed):
    session = Session(plan, landing, seed, pressed)
    progress = session.progress
    session.move()
    belt_mps, rate_spm, rows, number = None, None, [], 1
    for _ in range(700):
        session.move()
        # A walk in a rest is nothing that belt or rate could rise from (see `coach/raising.py`).
        if progress.state == "rest":
            rows.append((False, False))
        if progress.state != "drill":
            continue
        # A drill of one step may begin and end between two looks: what it asked counts, too.
        for passed in plan.drills[number : progress.number - 1]:
            if passed.kind != "rest":
                belt_mps = passed.belt_speed_mps or belt_mps
                rate_spm = passed.step_rate.spm if passed.step_rate else rate_spm
        number = progress.number
        belt, target = progress.belt, progress.target_spm()
        now_mps = belt_mps if belt is None else belt.speed_mps
        now_spm = rate_spm if target is None else target
        faster = belt_mps is not None and now_mps > belt_mps + 1e-9
        quicker = rate_spm is not None and now_spm > rate_spm + 1e-9
        rows.append((faster, quicker))
        assert not (faster and quicker)
        belt_mps, rate_spm = now_mps, now_spm
    assert rows or progress.done or progress.paused


def test_a_rest_between_excuses_no_rise_of_both(drill):
    plan = Plan("P", (
        drill(belt_speed_mps=5 * MPH, step_rate=StepRate(spm=170.0), seconds=70.0),
        drill(kind="rest", belt_speed_mps=None, step_rate=StepRate(spm=180.0), seconds=5.0),
        drill(belt_speed_mps=6 * MPH, step_rate=StepRate(spm=180.0), seconds=200.0),
    ))  # fmt: skip
    progress = SessionProgress(plan, 0.0)
    for t_s in (0.0, 70.0, 74.0):
        progress.advance(t_s)
    assert progress.target_spm() is None  # nobody is asked for a rate in a rest
    progress.advance(76.0)
    progress.command(ConfirmBelt(), 77.0)
    progress.advance(78.0)
    assert progress.belt.speed_mps == pytest.approx(6 * MPH)
    assert progress.target_spm() == 170.0
    progress.advance(150.0)
    assert progress.target_spm() == 180.0


def test_beginning_a_drill_anew_makes_no_second_rise_possible(drill):
    plan = Plan("P", (
        drill(belt_speed_mps=5 * MPH, step_rate=StepRate(spm=170.0), seconds=300.0),
    ))  # fmt: skip
    progress = SessionProgress(plan, 0.0)
    progress.advance(0.0)
    progress.command(ChangeBelt(8), 10.0)
    progress.command(ConfirmBelt(), 11.0)
    progress.command(RepeatDrill(), 12.0)
    progress.command(ConfirmBelt(), 13.0)
    progress.command(ChangeRate(5.0), 14.0)
    assert progress.target_spm() == 170.0
    assert progress.events[-1].kind == "refused"
    progress.command(ChangeRate(5.0), 75.0)
    assert progress.target_spm() == 175.0


@pytest.mark.parametrize("step_s", [0.25, 7.0, 1e6])
def test_by_time_alone_the_steps_of_the_clock_do_not_matter(drill, step_s):
    plan = Plan("P", (
        drill(seconds=20.0), drill(belt_speed_mps=8 * MPH, seconds=None, steps=10),
        drill(kind="rest", seconds=9.0), drill(seconds=None, hops=(2, 1), kind="hop"),
    ))  # fmt: skip
    progress, t_s = SessionProgress(plan), 0.0
    progress.advance(0.0)
    while not progress.done:
        t_s += step_s
        progress.advance(t_s)
    leap = SessionProgress(plan)
    leap.advance(0.0)
    leap.advance(1e6)
    assert progress.events == leap.events
