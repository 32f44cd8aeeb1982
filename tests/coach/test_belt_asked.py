"""A change of belt speed is asked of a person, waited for and confirmed; never beyond limits."""

from __future__ import annotations

import pytest

from station.coach.commands import ChangeBelt, ConfirmBelt, NextDrill, Pause, PreviousDrill, Resume
from station.coach.plan import Plan
from station.coach.progress import SessionProgress

MPH = 0.44704
SIX, SEVEN = 6 * MPH, 7 * MPH


def seven(drill, **changes):
    return drill(name="B", belt_speed_mps=SEVEN, belt_speed_text="7 mph", **changes)


@pytest.fixture
def waiting(drill):
    """Stand in the second of two drills, whose belt has been asked for at 60 s."""
    progress = SessionProgress(Plan("P", (drill(), seven(drill))), countdown_s=0.0)
    progress.advance(0.0)
    progress.advance(60.0)
    assert progress.belt_waits
    return progress


def told(progress, kind):
    return [event.as_dict() for event in progress.events if event.kind == kind]


def test_the_drill_stands_still_until_the_belt_has_run_as_asked_for_two_seconds(waiting, landing):
    for t_s, mps in ((62.0, SIX), (66.0, 6.6 * MPH), (67.0, 6.7 * MPH), (68.9, 7.3 * MPH)):
        waiting.advance(t_s)
        waiting.landing(landing(t_s), "ahead")
        waiting.see_belt(mps, t_s)
        assert waiting.belt_waits
        assert waiting.status().belt_changes
        assert waiting.drill_at(t_s) is None
    waiting.advance(69.0)
    waiting.see_belt(7.0 * MPH, 69.0)
    assert not waiting.belt_waits
    assert waiting.status().seconds_left == 60.0
    assert waiting.status().share_within == ()
    assert waiting.belt_set == waiting.belt
    assert told(waiting, "belt asked")[-1]["speed_mps"] == SEVEN
    assert told(waiting, "belt confirmed") == [{
        "t_s": 69.0, "kind": "belt confirmed", "why": "seen to run as asked", "by": "measured",
        "number": 2, "speed_mps": SEVEN, "seen_mps": SEVEN,
    }]  # fmt: skip


def test_a_speed_that_comes_and_goes_confirms_nothing(waiting):
    for i in range(100):
        t_s = 60.0 + 0.25 * i
        waiting.advance(t_s)
        waiting.see_belt((SEVEN, SEVEN, SEVEN, SIX, SEVEN, None)[i % 6], t_s)
    assert waiting.belt_waits


def test_the_key_confirms_at_once(waiting):
    waiting.command(ConfirmBelt(), 61.5)
    assert not waiting.belt_waits
    assert told(waiting, "belt confirmed")[0]["by"] == "key"
    waiting.advance(121.0)
    assert waiting.status().seconds_left == pytest.approx(0.5)


def test_after_half_a_minute_it_goes_on_unconfirmed_and_says_so(waiting):
    waiting.advance(89.9)
    assert waiting.belt_waits
    waiting.advance(95.0)
    assert not waiting.belt_waits
    assert [(e["t_s"], e["by"]) for e in told(waiting, "belt confirmed")] == [(90.0, "nobody")]
    assert waiting.elapsed_s == pytest.approx(5.0)


def test_a_pause_does_not_count_as_waiting(waiting):
    waiting.command(Pause(), 70.0)
    waiting.advance(1000.0)
    assert waiting.belt_waits
    assert waiting.state == "paused"
    waiting.command(Resume(), 1000.0)
    waiting.advance(1019.9)
    assert waiting.belt_waits
    waiting.advance(1020.0)
    assert not waiting.belt_waits


def test_a_belt_set_in_a_pause_is_confirmed_in_it(waiting):
    waiting.command(Pause(), 61.0)
    for i in range(9):
        waiting.see_belt(SEVEN, 62.0 + 0.25 * i)
    assert not waiting.belt_waits
    assert waiting.paused
    waiting.command(Resume(), 100.0)
    waiting.advance(101.0)
    assert waiting.elapsed_s == pytest.approx(1.0)


def test_going_back_before_the_belt_was_set_asks_for_the_first_speed_again(waiting):
    waiting.command(PreviousDrill(), 63.0)
    assert waiting.belt_waits
    assert waiting.belt.speed_mps == SIX
    assert [e["speed_mps"] for e in told(waiting, "belt asked")] == [SIX, SEVEN, SIX]


def test_nothing_waits_before_the_first_drill_or_in_a_rest_or_at_the_same_speed(drill):
    plan = Plan("P", (
        seven(drill), seven(drill), drill(kind="rest", seconds=5.0),
        drill(kind="rest", seconds=5.0, belt_speed_mps=None, belt_speed_text=None), drill(),
    ))  # fmt: skip
    progress = SessionProgress(plan)
    waits = []
    progress.advance(0.0)
    progress.advance(3.0)
    for t_s in (4.0, 63.0, 123.0, 128.0):
        progress.advance(t_s)
        waits.append(progress.belt_waits)
    assert waits == [False] * 4
    progress.advance(133.0)
    assert progress.belt_waits  # from a belt that stood
    assert [e["speed_mps"] for e in told(progress, "belt asked")] == [SEVEN, SIX, None, SIX]


def test_an_incline_alone_is_not_confirmed_by_speed(drill):
    progress = SessionProgress(Plan("P", (drill(), drill(incline_percent=4.0))), countdown_s=0.0)
    progress.advance(0.0)
    progress.advance(60.0)
    for i in range(20):
        progress.see_belt(SIX, 60.0 + i)
    assert progress.belt_waits
    progress.command(ConfirmBelt(), 81.0)
    assert not progress.belt_waits


def test_a_small_change_by_the_coach_does_not_stop_the_drill_but_small_ones_add_up(drill):
    progress = SessionProgress(Plan("P", (drill(seconds=600.0),)), countdown_s=0.0)
    progress.advance(0.0)
    waits = []
    for i in range(4):  # 0.1 mph is 1.7 %
        progress.command(ChangeBelt(1), 10.0 + i)
        waits.append(progress.belt_waits)
    assert waits == [False, False, False, True]
    assert progress.belt.speed_mps == pytest.approx(6.4 * MPH)
    progress.see_belt(6.4 * MPH, 14.0)
    progress.see_belt(6.4 * MPH, 16.0)
    assert not progress.belt_waits
    progress.command(ChangeBelt(1), 17.0)
    assert not progress.belt_waits


@pytest.mark.parametrize(("bay", "runner"), [(6.5, None), (None, 6.5), (6.5, 9.0), (9.0, 6.5)])
def test_the_lower_of_bays_and_runners_maximum_is_never_passed(drill, bay, runner):
    def mps(mph):
        return None if mph is None else mph * MPH

    plan = Plan("P", (drill(), seven(drill)))
    progress = SessionProgress(plan, 0.0, mps(bay), mps(runner))
    progress.advance(0.0)
    progress.command(NextDrill(), 50.0)
    assert progress.belt.speed_mps == pytest.approx(6.5 * MPH)
    assert progress.status().belt_speed == "6.5 mph"
    assert [e["asked_mps"] for e in told(progress, "belt limited")] == [SEVEN]
    progress.command(ChangeBelt(1), 55.0)
    assert progress.belt.speed_mps <= 6.5 * MPH + 1e-9
    assert told(progress, "refused")


@pytest.mark.parametrize(
    ("changes", "most_mph"),
    [
        ({"kind": "hop"}, 4.0),
        ({"kind": "lean", "runner_faces": "rear"}, 4.0),
        ({"kind": "lean"}, 4.5),
        ({"kind": "run"}, 4.5),
    ],
)
def test_the_coachs_key_keeps_to_the_slow_belt_of_hops_and_backward_steps(drill, changes, most_mph):
    """Up to 4 mph (common practice, no source)."""
    slow = drill(belt_speed_mps=3.5 * MPH, belt_speed_text="3.5 mph", seconds=600.0, **changes)
    progress = SessionProgress(Plan("P", (slow,)), countdown_s=0.0)
    progress.advance(0.0)
    for i in range(10):
        progress.command(ChangeBelt(1), 10.0 + i)
    assert progress.belt.speed_mps == pytest.approx(min(most_mph, 4.5) * MPH)
