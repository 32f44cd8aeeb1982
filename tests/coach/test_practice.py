"""Before, with and after feedback: counted by one limit, at one belt setting, leg by leg."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from report_rows import steps_of

from station.coach.closing import closing
from station.coach.practice import PracticeRun, practice_by_belt
from station.coach.verdict import LandingLimit, LandingLimits
from station.values import Belt

BELT = Belt(2.7, 0.0)


def run(name: str, deg: float, coached: bool, limit_deg: float = 7.0, **more: Any) -> PracticeRun:
    limit = LandingLimit(limit_deg, "baseline")
    told = {"belt": BELT, "count": 80, **more}
    return PracticeRun(
        name, told["belt"], not coached, coached, LandingLimits(limit, limit),
        steps_of(name, told["count"], deg),
    )  # fmt: skip


def test_all_three_are_counted_by_the_limit_that_was_practised_with() -> None:
    """The drill before had a limit of its own; by the later one hardly a landing was under."""
    runs = [run("a", 7.5, False, 9.0), run("b", 5.0, True, 6.5), run("c", 6.0, False, 9.0)]
    (one,) = practice_by_belt(runs)
    assert one.right.limit == LandingLimit(6.5, "baseline")
    shares = [one.right.of(phase) for phase in ("before", "with", "after")]
    told = [leg.within.share for leg in shares if leg and leg.within]
    assert told[0] == 0.0
    assert told[1] == 1.0
    assert 0.5 < told[2] < 1.0  # one in three lands a degree more
    assert shares[0] is not None
    assert shares[0].median_deg is not None
    assert 7.2 < shares[0].median_deg < 7.6


def test_before_is_the_last_drill_left_alone_and_after_what_follows_the_last_coached() -> None:
    runs = [
        run("settle", 9, False), run("alone", 8, False), run("b1", 6, True),
        run("between", 6, False), run("b2", 6, True), run("end", 6, False),
    ]  # fmt: skip
    (one,) = practice_by_belt(runs)
    assert one.left.before is not None
    assert one.left.coached is not None
    assert one.left.after is not None
    assert one.left.before.runs == ("alone",)
    assert one.left.coached.runs == ("b1", "b2")
    assert one.left.after.runs == ("end",)


def test_other_belts_are_others_and_a_changed_one_counts_nowhere() -> None:
    up = Belt(2.7, 3.0)
    changed = run("changed", 6, True)
    half = [replace(r, step=replace(r.step, step_length_m=1.2)) for r in changed.records[:40]]
    changed = replace(changed, records=[*half, *changed.records[40:]])
    runs = [
        run("a", 8, False), run("b", 6, True, belt=up), run("c", 6, True, belt=Belt(2.9)),
        run("d", 6, True, belt=None), changed,
    ]  # fmt: skip
    found = practice_by_belt(runs)
    assert [one.belt for one in found] == [BELT, up, Belt(2.9)]
    assert found[0].left.coached is None


def test_what_the_runner_is_told() -> None:
    told = closing([run("a", 8, False), run("b", 5, True), run("c", 5, False)], 240)
    assert told.lines == ("closing_steps", "closing_after", "closing_more")
    assert dict(told.values) == {"steps": "240", "tens": "10", "tens_before": "0"}
    assert told.count is not None
    assert told.count.leg.near
    told = closing([run("a", 8, False), run("b", 5, True)], 160)
    assert told.lines == ("closing_steps", "closing_with", "closing_more", "closing_not_alone")
    assert closing([run("a", 8, False, count=30)], 30).lines == ("closing_steps", "closing_too_few")
    assert closing([], 0).lines == ("closing_nothing",)


def test_the_runner_is_told_nothing_of_the_far_leg() -> None:
    far = replace(run("b", 5, True), records=steps_of("b", 80, 5.0, near=()))
    assert closing([far], 80).count is None
