"""What must hold in any session: random plans, runners and coaches, each gone through whole.

The plans go through the plan reader, so what it refuses is never run.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterable
from dataclasses import asdict
from itertools import pairwise
from pathlib import Path
from typing import Any

from courses import Course, run_course
from hypothesis import HealthCheck, Phase, assume, example, given, settings
from hypothesis import strategies as st

from station.coach.commands import (
    ChangeBelt,
    ChangeLimit,
    ChangeRate,
    Command,
    NextDrill,
    Pause,
    PreviousDrill,
    RepeatDrill,
    Resume,
    SetFeedback,
    SetSound,
)
from station.coach.plan import Drill, Plan
from station.errors import BadInput
from station.settings import read_plan
from station.settings.plan_limits import check_plan_against_bay
from station.simulate.landing_ways import LandingWay
from station.simulate.landings import LandingRunner, QuickListening
from station.simulate.listening import ListeningParameters
from station.values import Bay

FEW = settings(
    max_examples=25,
    deadline=None,
    derandomize=True,
    phases=(Phase.explicit, Phase.generate),  # a whole session is too long to be shrunk
    suppress_health_check=list(HealthCheck),
)
SPEEDS = ("5 mph", "6 mph", "6.5 mph", "10 km/h", "2.5 m/s", "8:30 min/mile")
MOST_S = 3600.0

# --- random plans -------------------------------------------------------------------------------

GATES = st.fixed_dictionaries({
    "share": st.sampled_from((0.6, 0.9)),
    "seconds": st.sampled_from((10, 20)),
    "landings": st.sampled_from((5, 10)),
    "uncued_seconds": st.sampled_from((0, 4)),
})  # fmt: skip
RUNS = st.fixed_dictionaries(
    {
        "belt_speed": st.sampled_from(SPEEDS),
        "seconds": st.integers(12, 40),
        "feedback": st.sampled_from(("every step", "fading", "summary", "off")),
    },
    optional={
        "step_rate": st.sampled_from((160, 172, 180, "+2 %", "+5 %", "own")),
        "beat": st.sampled_from(("on", "off")),
        "landing_change_deg": st.sampled_from((-3.0, -1.0, 1.0)),
        "advance": GATES,
        "cue_on": st.sampled_from(("landing", "median")),
        "withhold_percent": st.sampled_from((10, 50)),
        "otherwise": st.sampled_from(("go on", "repeat", "step back", "end")),
    },
)
RESTS = st.fixed_dictionaries({"kind": st.just("rest"), "seconds": st.integers(5, 20)})
HOPS = st.fixed_dictionaries(
    {
        "kind": st.just("hop"),
        "belt_speed": st.just("3 mph"),
        "hops": st.lists(st.integers(1, 6), min_size=1, max_size=3),
    },
    optional={"first_foot": st.sampled_from(("left", "right"))},
)
DRILLS = st.lists(st.one_of(RUNS, RUNS, RUNS, RESTS, HOPS), min_size=1, max_size=4)


def written(value: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{k} = {written(v)}" for k, v in value.items()) + " }"
    if isinstance(value, str):
        return f'"{value}"'
    return repr(value)


def plan_of(drills: list[dict[str, Any]]) -> Plan:
    """Read the plan as a file; one that is refused is not run."""
    lines = ['name = "Random"']
    for n, drill in enumerate(drills, start=1):
        lines += ["[[drill]]", f'name = "D{n}"', *(f"{k} = {written(v)}" for k, v in drill.items())]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "plan.toml"
        path.write_text("\n".join(lines), encoding="utf-8")
        try:
            return read_plan(path)
        except BadInput:
            assume(False)
            raise


# --- random runners and coaches -----------------------------------------------------------------

WAYS = st.builds(
    LandingWay,
    shank_deg=st.floats(2.0, 12.0),
    right_more_deg=st.floats(-2.0, 2.0),
    rate_spm=st.floats(150.0, 185.0),
    tires_from_s=st.sampled_from((20.0, 60.0, 1e9)),
    away=st.sampled_from(((), ((30.0, 45.0),), ((5.0, 9.0), (70.0, 71.0)))),
    hop_mistakes=st.sampled_from((0.0, 0.3)),
    felt_more=st.floats(-0.5, 0.5),
    seed=st.integers(0, 99),
)
EARS = st.builds(
    ListeningParameters,
    heeds=st.sampled_from((0.0, 0.5, 1.0)),
    cue_deg=st.floats(0.3, 2.0),
    seed=st.integers(0, 99),
)
COMMANDS = st.sampled_from((
    NextDrill(), PreviousDrill(), RepeatDrill(), Pause(), Resume(), ChangeRate(2.0),
    ChangeRate(-3.0), ChangeBelt(1), ChangeBelt(-2), ChangeBelt(5), ChangeLimit(1.0),
    ChangeLimit(-2.0), SetFeedback(False), SetFeedback(True), SetSound(False), SetSound(True),
))  # fmt: skip
ORDERS = st.lists(st.tuples(st.floats(0.0, 150.0), COMMANDS), max_size=8)
RESUMES_AFTER_S = 15.0


class RandomCoach:
    """Gives each command at its time, and never forgets a pause."""

    def __init__(self, orders: list[tuple[float, Command]]) -> None:
        self._orders = sorted(orders, key=lambda one: one[0])
        self._paused_s: float | None = None

    def __call__(self, now_s: float, course: Course) -> Iterable[Command]:
        while self._orders and self._orders[0][0] <= now_s:
            yield self._orders.pop(0)[1]
        if not course.coaching.progress.paused:
            self._paused_s = None
        elif self._paused_s is None:
            self._paused_s = now_s
        elif now_s - self._paused_s > RESUMES_AFTER_S:
            yield Resume()


@st.composite
def sessions(draw: st.DrawFn, coached: bool = True) -> dict[str, Any]:
    plan = plan_of(draw(DRILLS))
    limit_mps = draw(st.sampled_from((None, 2.5, 3.0, 4.5)))
    bay = Bay(belt_speed_limit_mps=limit_mps)
    try:
        check_plan_against_bay(plan, bay)
    except BadInput:
        assume(False)
    return {
        "plan": plan,
        "way": draw(WAYS),
        "ears": draw(EARS),
        "orders": draw(ORDERS) if coached else [],
        "belt_limit_mps": limit_mps,
        "runner_belt_limit_mps": draw(st.sampled_from((None, None, 2.6))),
        "belt_seen": draw(st.booleans()),
        "belt_set_s": draw(st.sampled_from((0.0, 4.0, 4.0, None))),
        "presses_key": draw(st.booleans()),
    }


def go(session: dict[str, Any], **also: Any) -> Course:
    given = {k: v for k, v in session.items() if k not in ("plan", "way", "ears", "orders")}
    return run_course(
        session["plan"],
        LandingRunner(session["way"], QuickListening(session["ears"])),
        coach=RandomCoach(session["orders"]),
        most_s=MOST_S,
        **given,
        **also,
    )


# --- what must hold -----------------------------------------------------------------------------


class Watch:
    """Looks at every moment for a step rate and a belt speed that rise in one step.

    A rate relative to the runner's own stays the same task on a faster belt, so numbers only are
    compared; a rest between two drills excuses nothing.
    """

    def __init__(self) -> None:
        self.rises: list[tuple[float, str]] = []
        self.raised = 0
        """How often the belt's speed rose under a step rate given as a number."""
        self._belt_mps: float | None = None
        self._rate_spm: float | None = None

    def __call__(self, now_s: float, course: Course) -> None:
        progress = course.coaching.progress
        drill, belt = progress.drill, progress.belt
        if progress.before_first or progress.done or drill.kind != "run" or belt is None:
            return
        numbered = drill.step_rate is not None and drill.step_rate.spm is not None
        rate_spm = course.coaching.target_spm if numbered else None
        faster = self._belt_mps is not None and belt.speed_mps > self._belt_mps + 1e-6
        if faster and rate_spm is not None and self._rate_spm is not None:
            self.raised += 1
            if rate_spm > self._rate_spm + 1e-6:
                self.rises.append((now_s, drill.name))
        self._belt_mps = belt.speed_mps
        self._rate_spm = self._rate_spm if rate_spm is None else rate_spm


def check_ends(course: Course) -> None:
    assert course.ended is not None
    assert all(run.ended_s is not None and run.why is not None for run in course.coaching.runs)
    times_s = [t for run in course.coaching.runs for t in (run.began_s, run.ended_s)]
    assert times_s == sorted(times_s)  # type: ignore[type-var]
    kinds = [event.kind for event in course.coaching.progress.events]
    assert kinds.count("drill started") == kinds.count("drill ended") == len(course.coaching.runs)
    assert kinds.count("session ended") == 1


def check_belt(course: Course, session: dict[str, Any]) -> None:
    """Beyond the plan only by the coach's keys; beyond bay and runner not even by those."""
    asked_mps = [mps for _, mps in course.belts] + [belt.speed_mps for belt in course.seen.told]
    of_plan = [drill.belt_speed_mps or 0.0 for drill in session["plan"].drills]
    keys = [c.by_tenths for _, c in session["orders"] if isinstance(c, ChangeBelt)]
    limits = [session[key] for key in ("belt_limit_mps", "runner_belt_limit_mps")]
    limit_mps = min((mps for mps in limits if mps is not None), default=99.0)
    by_keys = sum(0.1 * max(0, n) for n in keys)  # a tenth is 0.1 m/s at most
    assert max(asked_mps, default=0.0) <= min(max(of_plan) + by_keys, limit_mps) + 1e-6
    if not keys:
        allowed = {round(min(mps, limit_mps), 6) for mps in (*of_plan, 0.0)}
        assert {round(mps, 6) for mps in asked_mps} <= allowed


def check_cues(course: Course) -> None:
    for note in course.speaker.notes:
        if note.cue.kind in ("ahead", "praise"):
            assert not note.paused
            assert not note.proving
            assert not note.belt_waits
            assert note.sound_on
            assert note.feedback_on
            assert note.feedback in ("every step", "fading")
    cued = [one for one in course.coaching.judged if one.t_cue_s is not None]
    assert all(one.verdict == "ahead" for one in cued)


def check_mastery(course: Course) -> None:
    """Whatever the record says of it: a mastered drill had each leg's share over its time."""
    for run in course.coaching.runs:
        gate = run.drill.advance
        if run.why != "mastered":
            continue
        assert gate is not None
        end_s = run.ended_s or 0.0
        for side in ("left", "right"):
            last = [
                one.verdict
                for one in course.coaching.judged
                if one.run is run
                and one.verdict is not None
                and one.landing.side == side
                and one.landing.t_contact_s > end_s - gate.seconds - 0.2
            ]
            assert len(last) >= gate.landings
            assert last.count("within") >= gate.share * len(last) - 1.0  # the window's edge


@FEW
@given(session=sessions())
def test_any_session(session: dict[str, Any]) -> None:
    """It ends, asks for no belt beyond what is allowed, and is silent where it must be."""
    watch = Watch()
    course = go(session, watch=watch)
    check_ends(course)
    check_belt(course, session)
    check_cues(course)
    check_mastery(course)
    assert watch.rises == []


OFF_AND_ON: dict[str, tuple[Command, Command]] = {
    "pause": (Pause(), Resume()),
    "feedback": (SetFeedback(False), SetFeedback(True)),
    "sound": (SetSound(False), SetSound(True)),
}
QUIET = st.tuples(st.sampled_from(sorted(OFF_AND_ON)), st.floats(5.0, 50.0), st.floats(0.0, 30.0))


@settings(FEW, max_examples=12)
@given(
    spells=st.lists(QUIET, min_size=1, max_size=3, unique_by=lambda one: one[0]),
    feedback=st.sampled_from(("every step", "fading")),
    seed=st.integers(0, 99),
)
def test_nothing_sounds_where_it_must_not(
    spells: list[tuple[str, float, float]], feedback: Any, seed: int
) -> None:
    """A runner with many landings ahead, and a coach with a hand on the switches."""
    drill = Drill(
        "Often ahead", seconds=60.0, feedback=feedback, beat=False, landing_limit_deg=6.0,
        belt_speed_mps=2.7, belt_speed_text="2.7 m/s",
    )  # fmt: skip
    orders: list[tuple[float, Command]] = []
    for what, from_s, lasts_s in spells:
        off, on = OFF_AND_ON[what]
        orders += [(from_s, off), (from_s + lasts_s, on)]
    runner = LandingRunner(LandingWay(shank_deg=7.5, seed=seed))
    course = run_course(Plan("P", (drill,)), runner, coach=RandomCoach(orders))
    check_ends(course)
    check_cues(course)
    with_all_on = run_course(Plan("P", (drill,)), LandingRunner(runner.way))
    assert len(with_all_on.speaker.cues) > 3


def test_a_landing_whose_verdict_comes_in_a_pause_is_not_answered() -> None:
    """The key falls between contact and verdict, each time that a landing is far ahead."""
    drill = Drill(
        "Ahead", seconds=60.0, beat=False, landing_limit_deg=6.0,
        belt_speed_mps=2.7, belt_speed_text="2.7 m/s",
    )  # fmt: skip

    def at_each(now_s: float, course: Course) -> Iterable[Command]:
        if course.coaching.progress.paused:
            yield Resume()
        shank_deg = course.falls[-1].landing.shank_deg if course.falls else None
        if shank_deg is not None and shank_deg > 6.5:
            yield Pause()

    way = LandingWay(shank_deg=6.0)
    course = run_course(Plan("P", (drill,)), LandingRunner(way), coach=at_each)
    check_ends(course)
    assert any(one.verdict == "ahead" for one in course.coaching.judged)
    assert [cue for cue in course.speaker.cues if cue.kind in ("ahead", "praise")] == []


RATED = st.fixed_dictionaries({
    "belt_speed": st.sampled_from(("5 mph", "6 mph", "7 mph")),
    "step_rate": st.sampled_from((160, 170, 180)),
    "seconds": st.sampled_from((20, 70, 90)),
})  # fmt: skip
HURRIED = st.sampled_from((
    NextDrill(), NextDrill(), PreviousDrill(), RepeatDrill(), ChangeRate(1.0), ChangeRate(4.0),
    ChangeRate(-4.0), ChangeBelt(1), ChangeBelt(4), ChangeBelt(-4),
))  # fmt: skip


@settings(FEW, max_examples=20)
@given(
    drills=st.lists(st.one_of(RATED, RATED, RATED, RESTS), min_size=2, max_size=4),
    orders=st.lists(st.tuples(st.floats(0.0, 200.0), HURRIED), max_size=10),
    belt_seen=st.booleans(),
)
@example(  # two at once: over the drill in which the belt alone would have risen
    drills=[
        {"belt_speed": "5 mph", "step_rate": 160, "seconds": 90},
        {"belt_speed": "6 mph", "step_rate": 160, "seconds": 70},
        {"belt_speed": "6 mph", "step_rate": 180, "seconds": 70},
    ],
    orders=[(70.0, NextDrill()), (70.0, NextDrill())],
    belt_seen=True,
)
def test_rate_and_speed_never_rise_in_one_step(
    drills: list[dict[str, Any]], orders: list[tuple[float, Command]], belt_seen: bool
) -> None:
    """Whatever the coach's keys jump over; nobody needs to run for that."""
    watch = Watch()
    course = run_course(
        plan_of(drills),
        LandingRunner(LandingWay(away=((0.0, 1e9),))),
        coach=RandomCoach(orders),
        belt_seen=belt_seen,
        presses_key=not belt_seen,
        watch=watch,
    )
    check_ends(course)
    assert watch.rises == []


@settings(FEW, max_examples=8)
@given(session=sessions())
def test_the_same_inputs_give_the_same_course(session: dict[str, Any]) -> None:
    one, two = go(session), go(session)
    assert one.ended == two.ended
    assert one.rows == two.rows
    assert one.belts == two.belts
    assert one.heard == two.heard
    assert one.session.events() == two.session.events()
    assert one.session.drills() == two.session.drills()
    assert [asdict(c) for c in one.speaker.cues] == [asdict(c) for c in two.speaker.cues]


def overloads(course: Course) -> list[tuple[float, float]]:
    """From when to when cues were stopped because too many landings were ahead."""
    spells: list[tuple[float, float]] = []
    for event in course.coaching.progress.events:
        if event.kind == "cues stopped":
            spells.append((event.t_s, float("inf")))
        elif event.kind == "cues back" and spells:
            spells[-1] = (spells[-1][0], event.t_s)
    return spells


@settings(FEW, max_examples=8)
@given(
    shank_deg=st.floats(6.8, 10.0),
    heeds=st.sampled_from((0.0, 1.0)),
    cue_on=st.sampled_from(("landing", "median")),
    seconds=st.integers(100, 240),
    seed=st.integers(0, 99),
)
def test_the_cue_share_never_rises_while_fading(
    shank_deg: float, heeds: float, cue_on: Any, seconds: int, seed: int
) -> None:
    """Cues for each landing ahead, fifth by fifth: full at first, under a quarter at the end.

    While cues are stopped for overload nothing is counted: that is another silence. One cue more or
    less is the schedule's own rounding.
    """
    drill = Drill(
        "Fading", seconds=float(seconds), feedback="fading", beat=False, cue_on=cue_on,
        landing_limit_deg=6.0, belt_speed_mps=2.7, belt_speed_text="2.7 m/s",
    )  # fmt: skip
    way = LandingWay(shank_deg=shank_deg, seed=seed)
    ears = ListeningParameters(heeds=heeds, cue_deg=2.0, habit_s=8.0, seed=seed)
    course = run_course(Plan("P", (drill,)), LandingRunner(way, QuickListening(ears)))
    run = course.coaching.runs[0]
    ahead, cues = [0] * 5, [0] * 5
    stopped = overloads(course)
    for one in course.judged_in(0):
        if any(from_s <= one.landing.t_contact_s <= to_s for from_s, to_s in stopped):
            assert one.t_cue_s is None
            continue
        if one.verdict != "ahead" or not one.landing.near:
            continue  # without a baseline the far leg is not answered
        part = min(4, int(5.0 * (one.landing.t_contact_s - run.began_s) / seconds))
        ahead[part] += 1
        cues[part] += one.t_cue_s is not None
    for before, after in pairwise(range(5)):
        if ahead[before] and ahead[after]:
            # cues[after] / ahead[after] <= cues[before] / ahead[before], one cue left open
            assert (cues[after] - 1) * ahead[before] <= (cues[before] + 1) * ahead[after]
    if ahead[4] >= 8:
        assert cues[4] < 0.25 * ahead[4]
