"""Summaries of steps: what they hold, when they say nothing, and what may be called a change."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.measure import GaitMeter
from station.measure.summaries import (
    LEAST_STEPS,
    MEASURES,
    LegFigures,
    changes,
    leg_figures,
    side_difference,
    trend,
)
from station.settings.smallest_change import smallest_sizes
from station.simulate.gait import Runner
from station.simulate.parameters import GaitParameters
from station.simulate.trace import frame_times, poses, side_view
from station.values import Belt, Facing, Side, Step, StepRecord, Verdict, ViewProfile

STEP_S = 0.36
# Dingenen 2018, Phys Ther Sport 33:40-47: tibia inclination, upper end.
SMALLEST = {"shank_deg": 4.8}


def records(
    shanks_deg: list[float | None],
    side: Side = "left",
    near: bool = True,
    verdicts: list[Verdict | None] | None = None,
) -> list[StepRecord]:
    """Build steps of one leg, one per stride."""
    made = []
    for i, shank_deg in enumerate(shanks_deg):
        step = Step(
            i, side, near, 2.0 * STEP_S * i, 0.0, step_time_s=STEP_S, shank_deg=shank_deg,
            step_length_m=2.5 * STEP_S, confidence=0.8,
        )  # fmt: skip
        landing = None if verdicts is None else verdicts[i]
        made.append(StepRecord(step, "Easy", landing, False, None, None))
    return made


def leg(shank_deg: float, side: Side = "left", near: bool = True) -> LegFigures:
    made = leg_figures(
        records([shank_deg + 0.1 * (i % 3 - 1) for i in range(12)], side, near), side
    )
    assert made is not None
    return made


def test_figures_are_those_of_the_steps() -> None:
    shanks = [4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 30.0]
    made = leg_figures(records(list(shanks)), "left")
    assert made is not None
    shank = made.of("shank_deg")
    assert shank is not None
    assert (shank.count, shank.median) == (7, 7.0)
    assert shank.spread == pytest.approx(1.4826 * 2.0)  # of 3 2 1 0 1 2 23: one odd step is none
    assert shank.sd == pytest.approx(np.std(shanks, ddof=1))
    assert shank.cv is None  # the zero of an angle is a convention
    rate = made.of("step_rate_spm")
    assert rate is not None
    assert rate.median == pytest.approx(60.0 / STEP_S)
    assert made.near


@pytest.mark.parametrize(
    "shanks", [[5.0] * (LEAST_STEPS - 1), [], [5.0] * 3 + [None] * 2 + [math.nan]]
)
def test_nothing_from_under_seven_steps_of_a_leg(shanks: list[float | None]) -> None:
    assert leg_figures(records(shanks), "left") is None
    assert leg_figures(records([5.0] * 20, "right") + records(shanks), "left") is None


def test_a_measure_known_in_too_few_steps_is_left_out() -> None:
    made = leg_figures(records([5.0] * 6 + [None] * 6), "left")
    assert made is not None
    assert made.of("shank_deg") is None
    assert made.of("step_time_s") is not None


def test_share_of_landings_within() -> None:
    verdicts: list[Verdict | None] = ["within"] * 6 + ["ahead"] * 2 + [None] * 4
    made = leg_figures(records([5.0] * 12, verdicts=verdicts), "left")
    assert made is not None
    assert (made.judged, made.within_share) == (8, 0.75)
    few = leg_figures(records([5.0] * 12, verdicts=[*verdicts[:6], *[None] * 6]), "left")
    assert few is not None
    assert few.within_share is None


def test_variability() -> None:
    rows = records([5.0] * 30)
    wobble = 0.006 * np.random.default_rng(3).standard_normal(30)
    rows = [
        replace(row, step=replace(row.step, step_time_s=STEP_S + float(off)))
        for row, off in zip(rows, wobble, strict=True)
    ]
    made = leg_figures(rows, "left")
    assert made is not None
    time = made.of("step_time_s")
    assert time is not None
    assert time.sd == pytest.approx(np.std(wobble, ddof=1))
    assert time.cv == pytest.approx(time.sd / np.mean(STEP_S + wobble))


@settings(max_examples=30, deadline=None)
@given(st.floats(-20.0, 20.0), st.integers(30, 900))
def test_a_steady_drift_is_the_trend_whatever_the_odd_steps(per_min: float, count: int) -> None:
    t = 0.72 * np.arange(count)
    values = 6.0 + per_min * t / 60.0
    values[::11] += 25.0
    found = trend(t, values)
    if t[-1] < 20.0:
        assert found is None
        return
    assert found is not None
    assert found.per_min == pytest.approx(per_min, abs=0.5)
    assert found.low_per_min <= found.per_min <= found.high_per_min


def test_a_trend_is_clear_only_beyond_its_scatter() -> None:
    rng = np.random.default_rng(5)
    t = 0.72 * np.arange(80)
    rising = trend(t, 6.0 + 4.0 * t / 60.0 + rng.normal(0.0, 1.0, 80))
    level = trend(t, 6.0 + rng.normal(0.0, 1.0, 80))
    assert rising is not None
    assert level is not None
    assert rising.clear
    assert rising.per_min == pytest.approx(4.0, abs=1.0)
    assert not level.clear
    long = trend(0.72 * np.arange(5000.0), 6.0 + 0.5 * 0.012 * np.arange(5000.0))
    assert long is not None
    assert long.per_min == pytest.approx(0.5, rel=0.01)
    assert trend(t[:20], t[:20]) is None  # 14 s


# --- changes and differences --------------------------------------------------------------------


@pytest.mark.parametrize(("after_deg", "told"), [(12.7, 0), (12.9, 1), (3.1, 1), (3.3, 0)])
def test_a_change_is_told_from_the_smallest_detectable_on(after_deg: float, told: int) -> None:
    found = changes(leg(8.0), leg(after_deg), SMALLEST)
    assert len(found) == told
    if told:
        assert (found[0].name, found[0].smallest) == ("shank_deg", 4.8)
        assert found[0].difference == pytest.approx(after_deg - 8.0, abs=0.2)


def test_no_change_where_none_can_be_told() -> None:
    assert changes(leg(8.0), leg(20.0), {}) == ()  # nothing known of this measure
    assert changes(None, leg(20.0), SMALLEST) == ()
    assert changes(leg(8.0), None, SMALLEST) == ()
    assert changes(leg(8.0, near=False), leg(20.0), SMALLEST) == ()  # filmed from the other side
    with pytest.raises(ValueError, match="changes are of one leg"):
        changes(leg(8.0), leg(8.0, "right"), SMALLEST)


def test_legs_are_compared_only_when_each_was_near() -> None:
    near, far = leg(10.0, "right"), leg(10.0, "right", near=False)
    apart = side_difference(leg(4.0), near, "shank_deg", SMALLEST)
    assert (apart.verdict, apart.left_minus_right) == ("different", pytest.approx(-6.0))
    assert side_difference(leg(7.0), near, "shank_deg", SMALLEST).verdict == "alike"
    for left, right in (
        (leg(4.0), far),
        (leg(4.0, near=False), near),
        (None, near),
        (leg(4.0), None),
    ):
        told = side_difference(left, right, "shank_deg", SMALLEST)
        assert (told.verdict, told.left_minus_right) == ("not comparable", None)
    assert side_difference(leg(4.0), near, "trunk_lean_deg", SMALLEST).verdict == "not comparable"
    with pytest.raises(ValueError, match="left leg comes first"):
        side_difference(near, leg(4.0), "shank_deg", SMALLEST)


def test_a_mixed_leg_is_no_near_leg() -> None:
    rows = records([5.0] * 10) + records([5.0] * 10, near=False)
    made = leg_figures(rows, "left")
    assert made is not None
    assert not made.near


def test_plain_values_for_a_file() -> None:
    told = json.loads(json.dumps(leg(8.0).as_dict(), allow_nan=False))
    assert told["measures"]["shank_deg"]["median"] == pytest.approx(8.0)
    assert told["side"] == "left"


def test_every_measure_is_a_step_s_and_the_shipped_table_speaks_of_measures() -> None:
    step = Step(1, "left", True, 0.0, 0.0)
    assert all(hasattr(step, name) for name in MEASURES)
    assert set(smallest_sizes()) <= set(MEASURES)


# --- measured runs ------------------------------------------------------------------------------


EVEN = GaitParameters(variability=0.5)


@cache
def run_of(way: GaitParameters, faces: Facing) -> list[StepRecord]:
    view = side_view(way, faces, 300.0)
    line = ((240.0, 640.8), (1040.0, 640.8))
    meter = GaitMeter(ViewProfile(faces, 300.0, line, 1280, 720), Belt(way.belt_mps))
    seen = [meter.push(p) for p in poses(Runner(way), view, frame_times(60.0, 6.0))]
    steps = [step for o in [*seen, meter.finish()] for step in o.steps]
    return [StepRecord(step, "Easy", None, False, None, None) for step in steps]


def test_both_sides_of_an_even_runner_are_alike() -> None:
    """One run facing each way: then each leg was the near one once."""
    way = EVEN
    right, left = run_of(way, "right"), run_of(way, "left")
    assert leg_figures(right, "left") is not None
    near_right, near_left = leg_figures(right, "right"), leg_figures(left, "left")
    sizes = smallest_sizes()
    for name in ("shank_deg", "knee_flexion_peak_deg", "contact_s", "step_rate_spm"):
        assert side_difference(near_left, near_right, name, sizes).verdict == "alike"
        far = leg_figures(right, "left")
        assert side_difference(far, near_right, name, sizes).verdict == "not comparable"


def test_a_raised_step_rate_is_told_as_a_change_and_an_equal_one_is_not() -> None:
    """The step rate of 165 and 175 spm; Heiderscheit 2011 raised it by 5 and 10 %."""
    way = EVEN
    before = leg_figures(run_of(way, "right"), "right")
    again = leg_figures(run_of(replace(way, seed=7), "right"), "right")
    raised = leg_figures(run_of(replace(way, rate_spm=175.0), "right"), "right")
    sizes = smallest_sizes()
    assert changes(before, again, sizes) == ()
    told = {one.name: one.difference for one in changes(before, raised, sizes)}
    assert told["step_rate_spm"] == pytest.approx(10.0, abs=1.5)
