"""Felt against real: a runner whose feeling is off by a known share, asked after a block."""

from __future__ import annotations

from typing import Any

import pytest
from courses import Course, run_course

from station.coach.plan import Drill, Plan
from station.simulate.landing_ways import LandingWay
from station.simulate.landings import LandingRunner

BELT: dict[str, Any] = {"belt_speed_mps": 2.7, "belt_speed_text": "2.7 m/s"}


@pytest.mark.parametrize("felt_more", [-0.4, -0.2, 0.0, 0.1, 0.3])
def test_the_feel_gap_is_what_the_runner_is_off_by(felt_more: float) -> None:
    """To within half a landing of ten, as whole landings are said."""
    block = Drill(
        "Block", seconds=120.0, feedback="off", beat=False, landing_limit_deg=5.0, ask_felt=True,
        **BELT,
    )  # fmt: skip
    shown_before: list[int | None] = []

    def watch(now_s: float, course: Course) -> None:
        felt = course.coaching.progress.felt
        if felt is not None and felt.answer is None:
            shown_before.append(felt.status.within)

    way = LandingWay(shank_deg=6.0, felt_more=felt_more)
    plan = Plan("Felt", (block, Drill("Then", seconds=10.0, **BELT)))
    course = run_course(plan, LandingRunner(way), watch=watch)
    assert course.ended == "plan done"
    verdicts = [one.verdict for one in course.judged_in(0) if one.verdict is not None]
    share = verdicts.count("within") / len(verdicts)
    assert 0.4 < share < 0.7  # so that what is felt is off by neither end of the scale
    felt = course.session.drills()[0]["felt"]
    assert felt["share_within"] == pytest.approx(share)
    assert felt["judged"] == len(verdicts)
    assert felt["good_of_ten"] == round(10.0 * (share + felt_more))
    assert felt["gap"] == pytest.approx(felt["good_of_ten"] / 10.0 - share)
    assert felt["gap"] == pytest.approx(felt_more, abs=0.05 + 1e-9)
    assert set(shown_before) <= {None}  # the count is not shown before the answer
