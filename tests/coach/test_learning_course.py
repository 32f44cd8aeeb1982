"""The effect of a cue, and the rate test, on runners whose answers are known."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Any

import pytest
from courses import Course, run_course

from station.coach.feedback import FeedbackRule
from station.coach.plan import Drill, Plan, StepRate
from station.simulate.landing_ways import LandingWay
from station.simulate.landings import LandingRunner, QuickListening
from station.simulate.listening import ListeningParameters

findings = pytest.importorskip(
    "station.live.findings", reason="the effect of cues and the rate test are not worked out yet"
)
effect_of_cues, rate_test_of = findings.effect_of_cues, findings.rate_test_of

MPH = 0.44704
BAY = 1.5
"""Far leg's error in the bay's profile, so that both legs are answered; degrees."""


def drill(name: str, seconds: float, **also: Any) -> Drill:
    given = {"belt_speed_mps": 6 * MPH, "belt_speed_text": "6 mph", "beat": False, **also}
    return Drill(name, seconds=seconds, **given)


# --- the effect of a cue ------------------------------------------------------------------------


@lru_cache
def effect_on(cue_deg: float, heeds: float, seed: int) -> tuple[Any, Course]:
    """Half of the cues withheld; what a cue does is forgotten within some strides."""
    ears = ListeningParameters(
        heeds=heeds, cue_deg=cue_deg, cue_spread_deg=0.0, habit_s=1.5, lapse_share=0.0, seed=seed
    )
    way = LandingWay(shank_deg=7.0, seed=seed)
    block = drill("Withheld", 420.0, landing_limit_deg=6.1, withhold=0.5)
    runner = LandingRunner(way, QuickListening(ears))
    draws = FeedbackRule(seed=seed)
    course = run_course(Plan("P", (block,)), runner, far_leg_error_deg=BAY, rule=draws)
    found = effect_of_cues(course.coaching.runs)
    assert found is not None
    return found, course


SEEDS = range(4)
EFFECTS = [(0.0, 1.0), (1.5, 1.0), (2.0, 0.5)]


@pytest.mark.parametrize(("cue_deg", "heeds"), EFFECTS)
def test_the_effect_of_a_cue_is_the_true_one(cue_deg: float, heeds: float) -> None:
    """A cue takes `cue_deg` off the next landing of its leg in a share `heeds` of all cases.

    Each session by three of its own standard errors, and their mean by three of its: so there is no
    bias that the scatter of a session would hide.
    """
    true_deg = -cue_deg * heeds
    found = [effect_on(cue_deg, heeds, seed)[0].shank_deg for seed in SEEDS]
    errors = []
    for one in found:
        assert one is not None
        assert abs(one.difference - true_deg) < 3.0 * one.error
        assert one.low < one.difference < one.high
        errors.append(one.error)
    mean = sum(one.difference for one in found if one is not None) / len(found)
    mean_error = math.sqrt(sum(error**2 for error in errors)) / len(errors)
    assert mean_error < 0.2
    assert mean == pytest.approx(true_deg, abs=3.0 * mean_error)


def test_cues_are_withheld_at_random_and_in_the_share_asked_for() -> None:
    cued = withheld = 0
    for seed in SEEDS:
        effect, course = effect_on(1.5, 1.0, seed)
        cued, withheld = cued + effect.cued, withheld + effect.withheld
        left_out = [row for row in course.rows if row.withheld]
        assert not any(row.cued for row in left_out)
        assert all(row.landing == "ahead" for row in left_out)
        assert len(left_out) >= effect.withheld
    total = cued + withheld
    assert total > 400
    assert withheld / total == pytest.approx(0.5, abs=3.0 * 0.5 / math.sqrt(total))


def test_without_withheld_cues_there_is_no_effect_to_be_told() -> None:
    runner = LandingRunner(LandingWay(shank_deg=7.0))
    course = run_course(Plan("P", (drill("All", 60.0, landing_limit_deg=5.5),)), runner)
    assert any(row.cued for row in course.rows)
    assert effect_of_cues(course.coaching.runs) is None


# --- the rate test ------------------------------------------------------------------------------

RISES = (0.0, 2.5, 5.0, 7.5)
RATE_PLAN = Plan(
    "Rate test",
    (
        drill("As you are", 90.0, feedback="off"),
        *(
            drill(
                f"+{rise:g} %", 75.0, feedback="off", beat=True, rate_test=True,
                step_rate=StepRate(change_percent=rise), landing_limit_deg=6.0,
            )
            for rise in RISES
        ),
    ),
)  # fmt: skip


def rate_test_on(shank_deg: float, per_percent: float, seed: int = 1) -> Any:
    way = LandingWay(
        shank_deg=shank_deg, shank_per_rate_percent=per_percent, belt_mps=6 * MPH, seed=seed
    )
    ears = ListeningParameters(heeds=0.0, lapse_share=0.0, seed=seed)
    course = run_course(RATE_PLAN, LandingRunner(way, QuickListening(ears)))
    assert course.ended == "plan done"
    found = rate_test_of(course.coaching.runs, course.coaching.baselines)
    assert found is not None
    return found


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize(
    ("shank_deg", "per_percent", "smallest"),
    [
        (3.5, -0.3, 0.0),  # within at the own rate already
        (10.2, -2.8, 2.5),  # 10.2, then 3.2: within on 99 % near, 98 % far
        (10.2, -1.4, 5.0),  # 10.2, 6.7 (67 and 72 %), then 3.2
        (10.2, 0.0, None),  # the rate changes nothing
    ],
)
def test_the_rate_test_finds_the_smallest_rise(
    shank_deg: float, per_percent: float, smallest: float | None, seed: int
) -> None:
    found = rate_test_on(shank_deg, per_percent, seed)
    assert found.own_spm == pytest.approx(165.0, abs=0.8)
    assert [block.left_out for block in found.blocks] == [None] * len(RISES)
    for block, rise in zip(found.blocks, RISES, strict=True):
        assert block.rise_percent == pytest.approx(rise, abs=0.3)
        assert block.rate_spm == pytest.approx(165.0 * (1.0 + rise / 100.0), rel=0.01)
    if smallest is None:
        assert found.smallest_rise_percent is None
        assert found.note is not None
        return
    assert found.smallest_rise_percent == pytest.approx(smallest, abs=0.3)
    assert found.step_rate_spm == pytest.approx(165.0 * (1.0 + smallest / 100.0), rel=0.01)
    assert [block.met for block in found.blocks] == [rise >= smallest for rise in RISES]
