from __future__ import annotations

import pytest

from station.coach.commands import (
    ChangeBelt,
    ChangeRate,
    ConfirmBelt,
    EndSession,
    NextDrill,
    Pause,
    PreviousDrill,
    Resume,
    SetSound,
)
from station.coach.course import DrillEnded, DrillStarted, SessionEnded
from station.coach.plan import Gate, Plan, StepRate
from station.coach.progress import SessionProgress

MPH = 0.44704


@pytest.fixture
def plan(drill):
    return Plan(
        "P",
        (
            drill(name="A", seconds=20.0),
            drill(name="B", seconds=30.0, belt_speed_mps=7 * MPH, belt_speed_text="7 mph"),
            drill(name="C", kind="rest", seconds=10.0, belt_speed_mps=None, belt_speed_text=None),
        ),
    )


def brief(changes):
    """Write changes as short texts."""
    return [
        f"{type(c).__name__} {c.t_s:g}"
        + (f" {c.drill.name}" if isinstance(c, (DrillStarted, DrillEnded)) else "")
        + (f" {c.why}" if isinstance(c, (DrillEnded, SessionEnded)) else "")
        for c in changes
    ]


@pytest.mark.parametrize(
    ("t_s", "state", "name", "seconds_left", "belt_changes"),
    [
        (10.0, "countdown", "A", 20.0, False),
        (12.9, "countdown", "A", 20.0, False),
        (13.0, "drill", "A", 20.0, False),
        (32.5, "drill", "A", 0.5, False),
        (33.0, "drill", "B", 30.0, True),
        (62.9, "drill", "B", 30.0, True),  # nobody confirms the belt for 30 s
        (70.9, "drill", "B", 22.1, True),
        (71.1, "drill", "B", 21.9, False),
        (92.0, "drill", "B", 1.0, False),
        (93.0, "rest", "C", 10.0, True),  # the belt is to stand
        (103.0, "done", "C", 0.0, False),
        (500.0, "done", "C", 0.0, False),
    ],
)
@pytest.mark.parametrize("step_s", [0.1, 1000.0])
def test_where_a_plan_stands(plan, t_s, state, name, seconds_left, belt_changes, step_s):
    """Time may come in small steps or in one leap: the course is the same."""
    progress = SessionProgress(plan)
    at_s = 10.0
    while at_s < t_s:
        progress.advance(at_s)
        at_s += step_s
    progress.advance(t_s)
    status = progress.status()
    assert (progress.state, status.name) == (state, name)
    assert status.seconds_left == pytest.approx(seconds_left)
    assert status.belt_changes is belt_changes
    assert status.count == 3
    assert status.belt_speed == {"A": "6 mph", "B": "7 mph", "C": None}[name]


def test_one_leap_tells_all_that_happened_at_its_exact_time(plan):
    progress = SessionProgress(plan)
    progress.advance(10.0)
    assert brief(progress.advance(999.0)) == [
        "DrillStarted 13 A",
        "DrillEnded 33 A length",
        "DrillStarted 33 B",
        "DrillEnded 93 B length",
        "DrillStarted 93 C",
        "DrillEnded 103 C length",
        "SessionEnded 103 plan done",
    ]
    assert progress.advance(1000.0) == ()


def test_without_countdown_the_first_drill_begins_at_once(plan):
    progress = SessionProgress(plan, countdown_s=0.0)
    assert brief(progress.advance(5.0)) == ["DrillStarted 5 A"]
    assert progress.countdown_left_s is None


def test_countdown_counts_down(plan):
    progress = SessionProgress(plan, countdown_s=3.0)
    assert progress.countdown_left_s == 3.0
    progress.advance(0.0)
    progress.advance(1.2)
    assert progress.countdown_left_s == pytest.approx(1.8)
    assert progress.beat_spm() is None


def test_time_stands_still_in_a_pause(plan, landing):
    progress = SessionProgress(plan, countdown_s=0.0)
    progress.advance(0.0)
    progress.command(Pause(), 5.0)
    progress.command(Pause(), 6.0)  # twice is once
    assert progress.advance(500.0) == ()
    assert progress.state == "paused"
    assert progress.status().seconds_left == pytest.approx(15.0)
    progress.landing(landing(400.0), "ahead")
    assert progress.status().share_within == ()
    progress.command(Resume(), 505.0)
    progress.command(Resume(), 506.0)
    assert progress.state == "drill"
    assert brief(progress.advance(520.0)) == ["DrillEnded 520 A length", "DrillStarted 520 B"]


def test_a_landing_before_the_pause_that_comes_late_still_counts(drill, landing):
    progress = SessionProgress(Plan("P", (drill(seconds=None, steps=10),)), countdown_s=0.0)
    progress.advance(0.0)
    progress.command(Pause(), 5.0)
    progress.landing(landing(4.95), "within")
    progress.landing(landing(5.0), "within")
    assert progress.status().steps_left == 9


def test_a_late_landing_of_the_drill_before_does_not_count(plan, landing):
    progress = SessionProgress(plan, countdown_s=0.0)
    progress.advance(0.0)
    progress.advance(20.0)
    progress.command(ConfirmBelt(), 20.0)
    progress.landing(landing(19.95), "ahead")
    assert progress.status().share_within == ()
    progress.landing(landing(20.3, "left"), "ahead")
    progress.landing(landing(20.6, "right"), "within")
    assert progress.status().share_within == (("left", 0.0), ("right", 1.0))
    at = progress.drill_at(19.95)
    assert at is not None
    assert at[1].name == "A"
    assert progress.drill_at(-1.0) is None


def test_a_drill_by_steps_counts_landings_judged_or_not(drill, run):
    plan = Plan("P", (drill(name="A", seconds=None, steps=12), drill(name="B")))
    progress = SessionProgress(plan, countdown_s=0.0)
    progress.advance(0.0)
    landings = run(12, start_s=0.5)
    for landing in landings[:-1]:
        progress.advance(landing.t_contact_s)
        assert progress.landing(landing, None) == ()
    assert progress.status().steps_left == 1
    assert progress.status().seconds_left is None
    assert progress.share_done == pytest.approx(11 / 12)
    ended = progress.landing(landings[-1], None)
    assert [type(c) for c in ended] == [DrillEnded, DrillStarted]
    assert ended[0].t_s == pytest.approx(landings[-1].t_contact_s)
    assert progress.drill.name == "B"


def run_gate(drill, run, verdict_of, seconds=60.0):
    gate = Gate(0.9, 10.0, landings=10, uncued_seconds=4.0)
    plan = Plan("P", (drill(seconds=seconds, advance=gate),))
    progress = SessionProgress(plan, countdown_s=0.0)
    progress.advance(0.0)
    for i, landing in enumerate(run(300, start_s=0.1)):
        changes = progress.advance(landing.t_contact_s)
        changes += progress.landing(landing, verdict_of(i, landing))
        if changes:
            return changes[0]
    return None


def test_the_gate_ends_a_drill_once_each_leg_held_it(drill, run):
    ended = run_gate(drill, run, lambda i, x: "within")
    assert ended.why == "mastered"
    assert ended.t_s == pytest.approx(10.1, abs=0.4)
    late = run_gate(drill, run, lambda i, x: "ahead" if x.t_contact_s < 20.0 else "within")
    assert late.why == "mastered"
    # the first 6 s of the gate hold at 26 s at the latest; the 4 s without cues follow
    assert late.t_s == pytest.approx(29.9, abs=0.7)


@pytest.mark.parametrize(
    "verdict_of",
    [
        lambda i, x: "within" if x.side == "left" else "ahead",
        lambda i, x: "within" if x.side == "left" else None,  # a leg that cannot be judged
        lambda i, x: "ahead" if i % 10 < 2 else "within",  # 80 %
    ],
)
def test_without_mastery_of_each_leg_a_drill_ends_at_its_length(drill, run, verdict_of):
    ended = run_gate(drill, run, verdict_of)
    assert (ended.why, ended.t_s) == ("length", 60.0)


def test_next_and_previous(plan):
    progress = SessionProgress(plan)
    progress.advance(0.0)
    assert progress.command(PreviousDrill(), 0.5) == ()
    assert brief(progress.command(NextDrill(), 1.0)) == ["DrillStarted 1 A"]
    assert brief(progress.command(PreviousDrill(), 2.0)) == [
        "DrillEnded 2 A coach",
        "DrillStarted 2 A",
    ]
    progress.command(NextDrill(), 3.0)
    assert brief(progress.command(PreviousDrill(), 4.0)) == [
        "DrillEnded 4 B coach",
        "DrillStarted 4 A",
    ]
    assert progress.status().belt_changes  # back from 7 to 6 mph
    progress.command(NextDrill(), 5.0)
    progress.command(NextDrill(), 6.0)
    assert brief(progress.command(NextDrill(), 7.0)) == [
        "DrillEnded 7 C coach",
        "SessionEnded 7 plan done",
    ]
    assert progress.command(PreviousDrill(), 8.0) == ()


def test_a_pause_goes_on_in_the_next_drill(plan):
    progress = SessionProgress(plan, countdown_s=0.0)
    progress.advance(0.0)
    progress.command(Pause(), 1.0)
    progress.command(NextDrill(), 2.0)
    assert (progress.state, progress.drill.name) == ("paused", "B")
    progress.advance(100.0)
    assert progress.status().seconds_left == 30.0


def test_the_coach_ends_the_session(plan):
    progress = SessionProgress(plan, countdown_s=0.0)
    progress.advance(0.0)
    assert brief(progress.command(EndSession(), 4.0)) == [
        "DrillEnded 4 A coach",
        "SessionEnded 4 coach",
    ]
    assert progress.done
    assert not progress.paused
    before = SessionProgress(plan)
    before.advance(0.0)
    assert brief(before.command(EndSession(), 1.0)) == ["SessionEnded 1 coach"]


def test_rate_changes_by_one_and_stays_in_range(drill):
    plan = Plan("P", (drill(step_rate=StepRate(spm=180.0)), drill()))
    progress = SessionProgress(plan, countdown_s=0.0)
    progress.advance(0.0)
    progress.command(ChangeRate(1.0), 1.0)
    progress.command(ChangeRate(1.0), 1.1)
    progress.command(ChangeRate(-1.0), 1.2)
    assert progress.target_spm() == 181.0
    assert progress.beat_spm() == 181.0
    for _ in range(200):
        progress.command(ChangeRate(1.0), 2.0)
    top = progress.target_spm()
    progress.command(ChangeRate(-1.0), 3.0)
    assert progress.target_spm() == top - 1.0  # no dead travel beyond the range
    progress.command(NextDrill(), 4.0)
    progress.command(ChangeRate(1.0), 5.0)
    assert progress.target_spm() is None
    progress.command(PreviousDrill(), 6.0)
    assert progress.target_spm() == top - 1.0


def test_a_target_from_the_baseline_waits_for_it(drill):
    plan = Plan("P", (drill(step_rate=StepRate(change_percent=5.0)),))
    progress = SessionProgress(plan, countdown_s=0.0)
    progress.advance(0.0)
    assert progress.beat_spm(None) is None
    assert progress.beat_spm(170.0) == pytest.approx(178.5)
    progress.command(ChangeRate(-1.0), 1.0)
    assert progress.beat_spm(170.0) == pytest.approx(177.5)
    progress.command(SetSound(False), 2.0)
    assert progress.beat_spm(170.0) is None
    progress.command(SetSound(True), 3.0)
    progress.command(Pause(), 4.0)
    assert progress.beat_spm(170.0) is None


@pytest.mark.parametrize(
    ("text", "mps", "tenths", "new_text", "new_mps"),
    [
        ("6 mph", 6 * MPH, 1, "6.1 mph", 6.1 * MPH),
        ("6 mph", 6 * MPH, -1, "5.9 mph", 5.9 * MPH),
        ("9.65 km/h", 9.65 / 3.6, 1, "9.75 km/h", 9.75 / 3.6),
        ("2.5 m/s", 2.5, 1, "2.6 m/s", 2.6),
        # a treadmill steps in tenths of a mile per hour; computed: 60 min / 6.1 = 9:50.2
        ("10:00 min/mile", 6 * MPH, 1, "9:50 min/mile", 6.1 * MPH),
        ("10 mph", 10 * MPH, 1, "10 mph", 10 * MPH),  # the bay's limit
        ("0.5 km/h", 0.5 / 3.6, -1, "0.5 km/h", 0.5 / 3.6),
    ],
)
def test_the_belt_is_noted_in_tenths_of_its_unit(drill, text, mps, tenths, new_text, new_mps):
    plan = Plan("P", (drill(belt_speed_text=text, belt_speed_mps=mps),))
    progress = SessionProgress(plan, countdown_s=0.0, belt_limit_mps=10 * MPH)
    progress.advance(0.0)
    progress.advance(20.0)
    progress.command(ChangeBelt(tenths), 20.0)
    assert progress.status().belt_speed == new_text
    assert progress.belt.speed_mps == pytest.approx(new_mps)
    assert progress.status().belt_changes is (text != new_text)


def test_a_standing_belt_has_no_speed_to_change(drill):
    plan = Plan("P", (drill(kind="hop", belt_speed_mps=None, belt_speed_text=None),))
    progress = SessionProgress(plan, countdown_s=0.0)
    progress.advance(0.0)
    progress.command(ChangeBelt(1), 1.0)
    assert progress.belt is None


def test_the_instant_between_two_drills_belongs_to_the_later_one(plan):
    progress = SessionProgress(plan, countdown_s=0.0)
    progress.advance(0.0)
    progress.command(ConfirmBelt(), 20.0)
    progress.command(Pause(), 25.0)
    progress.command(Resume(), 27.0)
    found = [progress.drill_at(t_s) for t_s in (0.0, 19.999, 20.0, 24.999, 25.0, 26.999, 27.0)]
    assert [f and f[1].name for f in found] == ["A", "A", "B", "B", None, None, "B"]
    progress.advance(100.0)
    assert progress.drill_at(62.0) is None  # the plan was done then, pause included
