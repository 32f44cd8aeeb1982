"""Hop drills, gone through whole: what is counted on each foot is what the runner hopped."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import groupby
from pathlib import Path
from random import Random

import pytest
from courses import Course, run_course

from station.coach.plan import Drill, Plan
from station.settings import read_plan
from station.simulate.landing_ways import LandingWay
from station.simulate.landings import Footfall, LandingRunner
from station.values import Side, other

HOP_PLAN = Path(__file__).resolve().parents[2] / "config" / "plans" / "hops-into-running.toml"
BELT = {"belt_speed_mps": 1.341, "belt_speed_text": "3 mph"}
THEN = Drill("Run", seconds=20.0, belt_speed_mps=2.2352, belt_speed_text="5 mph")


def hops(rounds: tuple[int, ...], first: Side = "left") -> Drill:
    return Drill("Hops", kind="hop", hops=rounds, first_foot=first, **BELT)  # type: ignore[arg-type]


class Count:
    """Looks at the screen's count at every moment: how many hops each turn was counted for."""

    def __init__(self) -> None:
        self.turns: list[tuple[Side, int]] = []
        self._left: tuple[Side, int, int] | None = None

    def __call__(self, now_s: float, course: Course) -> None:
        hop = course.coaching.progress.status().hop
        now = None if hop is None else (hop.foot, hop.round, hop.hops_left)
        if self._left is not None and (now is None or now[:2] != self._left[:2]):
            self.turns.append((self._left[0], self.turn_size))
        if now is not None and (self._left is None or now[:2] != self._left[:2]):
            self.turn_size = now[2]  # what is left as a turn begins is its whole length
        self._left = now


def made_in(course: Course, kind: str = "hop") -> list[tuple[Side, int]]:
    """The truth: hops in a row on one foot, from the first that counted."""
    (run,) = [run for run in course.coaching.runs if run.drill.kind == kind]
    sides = [
        fall.true.side
        for fall in course.falls
        if run.began_s <= fall.landing.t_contact_s < (run.ended_s or 0.0) + 1e-9
    ]
    return [(side, len(list(group))) for side, group in groupby(sides)]


@pytest.mark.parametrize("seed", range(4))
def test_a_hundred_rounds_are_counted_without_one_hop_off(seed: int) -> None:
    """25 rounds for each of four runners, 1 to 9 hops a foot; 0 off on either foot."""
    luck = Random(seed)
    rounds = tuple(luck.randint(1, 9) for _ in range(25))
    first: Side = "left" if seed % 2 else "right"
    count = Count()
    runner = LandingRunner(LandingWay(seed=seed, hop_spm=luck.uniform(130.0, 190.0)))
    course = run_course(Plan("Hops", (hops(rounds, first), THEN)), runner, watch=count)
    asked = [(foot, n) for n in rounds for foot in (first, other(first))]
    assert course.ended == "plan done"
    assert course.whys[0] == "length"
    assert count.turns == asked
    assert made_in(course) == asked == runner.hops_made
    counted = course.coaching.runs[0].hops
    assert counted is not None
    assert (counted.counted, counted.wrong_foot, counted.not_seen, counted.doubled) == (
        2 * sum(rounds), 0, 0, 0,
    )  # fmt: skip


def test_the_ready_hop_plan_is_counted_exactly() -> None:
    """Its hop drills, with what follows each cut short."""
    plan = read_plan(HOP_PLAN)
    drills = tuple(d if d.kind == "hop" else replace(d, seconds=10.0) for d in plan.drills)
    asked = [
        (foot, n)
        for d in drills
        if d.kind == "hop"
        for n in d.hops
        for foot in (d.first_foot, other(d.first_foot))
    ]
    assert len(asked) >= 10
    count = Count()
    course = run_course(Plan("Hops", drills), LandingRunner(LandingWay(seed=3)), watch=count)
    assert course.ended == "plan done"
    assert count.turns == asked
    for run in course.coaching.runs:
        if run.drill.kind == "hop":
            assert run.hops is not None
            assert (run.hops.counted, run.hops.wrong_foot) == (run.drill.hop_count, 0)


def blind_for(*numbers: int) -> Callable[[Footfall], bool]:
    return lambda fall: fall.number in numbers


@pytest.mark.parametrize("seed", range(2))
def test_hops_that_the_camera_misses_do_not_upset_the_count(seed: int) -> None:
    """The runner makes each turn right; one hop in about 25 is not seen, once it hops evenly.

    The last hop of all is seen: nothing could tell it from one that is still to come.
    """
    luck = Random(seed)
    rounds = tuple(luck.randint(3, 9) for _ in range(25))
    total = 2 * sum(rounds)
    missed = [n + luck.randint(0, 20) for n in range(5, total - 22, 25)]
    runner = LandingRunner(LandingWay(seed=40 + seed))
    course = run_course(Plan("Hops", (hops(rounds), THEN)), runner, misses=blind_for(*missed))
    asked = [(foot, n) for n in rounds for foot in ("left", "right")]
    counted = course.coaching.runs[0].hops
    assert counted is not None
    assert len(course.seen.missed) == len(missed) > 5
    assert made_in(course) == asked  # the drill ends with the runner's last hop
    assert counted.counted == total
    assert counted.wrong_foot == 0


def test_two_hops_missed_across_a_change_of_feet_belong_to_one_foot_each() -> None:
    runner = LandingRunner(LandingWay())
    course = run_course(Plan("Hops", (hops((6, 4)), THEN)), runner, misses=blind_for(6, 7))
    assert made_in(course) == [("left", 6), ("right", 6), ("left", 4), ("right", 4)]
    counted = course.coaching.runs[0].hops
    assert counted is not None
    assert (counted.counted, counted.not_seen, counted.wrong_foot) == (20, 2, 0)


@pytest.mark.parametrize("seed", range(3))
def test_a_runner_who_miscounts_is_counted_right(seed: int) -> None:
    """One hop too many or too few in a third of its turns: only the right foot's hops count."""
    rounds = (8, 4, 3, 2, 1, 6)
    runner = LandingRunner(LandingWay(hop_mistakes=0.35, seed=seed))
    count = Count()
    course = run_course(Plan("Hops", (hops(rounds), THEN)), runner, watch=count)
    run = course.coaching.runs[0]
    assert run.why == "length"
    assert count.turns == [(foot, n) for n in rounds for foot in ("left", "right")]
    assert run.hops is not None
    assert run.hops.counted == 2 * sum(rounds)
    made = sum(n for _, n in made_in(course))
    assert run.hops.counted + run.hops.wrong_foot == made
    assert run.hops.not_seen == run.hops.doubled == 0
