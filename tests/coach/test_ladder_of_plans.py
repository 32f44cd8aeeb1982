"""Where the ladder of a plan leads when a rung is never mastered, or only at a second try."""

from __future__ import annotations

import pytest

from station.coach.ladder import Ladder
from station.coach.plan import Gate, Plan

GATE = Gate(0.9, 120.0)


@pytest.fixture
def plan(drill):
    def rung(mps):
        return drill(name=f"at {mps}", belt_speed_mps=mps, advance=GATE, otherwise="step back")

    def rest():
        return drill(name="walk", kind="rest", belt_speed_mps=1.3)

    own = drill(name="own at 4", belt_speed_mps=4.0, feedback="off", beat=False)
    easy = drill(name="easy", belt_speed_mps=2.2)
    return Plan("P", (easy, rung(2.7), rest(), own, rung(4.0), rest()))


def course(plan, mastered):
    """Return the drills' numbers as they follow each other; `mastered` answers for a rung's try."""
    ladder, tries, number, course = Ladder(plan, lambda n: plan.drills[n - 1].belt), {}, 1, []
    ends = ""
    while number is not None:
        course.append(number)
        assert len(course) < 100
        tries[number] = tries.get(number, 0) + 1
        following = ladder.after(number, mastered(number, tries[number]), False)
        number, ends = following.number, following.ends
    return course, ends


def test_mastery_leads_straight_up(plan):
    assert course(plan, lambda number, tried: number in (2, 5)) == ([1, 2, 3, 4, 5, 6], "plan done")


def test_nothing_faster_follows_a_rung_that_is_never_mastered(plan):
    assert course(plan, lambda number, tried: False) == ([1, 2, 1, 2, 1, 2, 3, 6], "plan done")


def test_back_to_the_slower_rung_and_up_again(plan):
    numbers, ends = course(plan, lambda number, tried: number == 2 or tried == 2)
    assert (numbers, ends) == ([1, 2, 3, 4, 5, 2, 3, 4, 5, 6], "plan done")


def test_mastery_lost_below_ends_the_climb(plan):
    numbers, _ = course(plan, lambda number, tried: number == 2 and tried == 1)
    assert numbers == [1, 2, 3, 4, 5, 2, 1, 2, 1, 2, 3, 6]


def test_a_climb_without_anything_slower_left_says_why_it_ends(plan):
    shorter = Plan("P", plan.drills[:5])
    numbers, ends = course(shorter, lambda number, tried: False)
    assert numbers == [1, 2, 1, 2, 1, 2, 3]
    assert ends == "not mastered"


def test_a_tired_runner_climbs_no_further(plan):
    ladder = Ladder(plan, lambda n: plan.drills[n - 1].belt)
    assert ladder.after(2, False, True).number == 3
    assert ladder.after(3, False, False).number == 6
