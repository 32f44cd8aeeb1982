"""Scores of hand-made steps, whose errors are known beforehand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from station.bench.bounds import (
    SLOW_CAMERA,
    USUAL,
    LearnedView,
    Miss,
    bounds_at,
    missed_bounds,
)
from station.bench.score import LIMITS_DEG, Score, Spread, agreement, match, score
from station.values import Step, TrueStep

STEP_S = 0.36


def truth(count: int, shank_deg: float = 6.0) -> list[TrueStep]:
    return [
        TrueStep(1.0 + STEP_S * i, 1.25 + STEP_S * i, "left" if i % 2 else "right", 0.04, shank_deg)
        for i in range(count)
    ]


def as_measured(true: list[TrueStep], late_s: float = 0.0, deg: float = 0.0) -> list[Step]:
    return [
        Step(
            number=i + 1,
            side=t.side,
            near=t.side == "right",
            t_contact_s=t.t_contact_s + late_s,
            t_verdict_s=t.t_contact_s + 0.05,
            t_toe_off_s=t.t_toe_off_s + 2.0 * late_s,
            step_time_s=STEP_S if i else None,
            shank_deg=t.shank_deg + deg,
            shank_at_verdict_deg=t.shank_deg + deg,
        )
        for i, t in enumerate(true)
    ]


def perfect() -> Score:
    true = truth(10)
    return score(as_measured(true), true, 0.0, 10.0)


def test_errors_are_measured_minus_true() -> None:
    true = truth(10)
    found = score(as_measured(true, late_s=0.005, deg=-1.5), true, 0.0, 10.0)
    assert (found.contacts, found.missed, found.invented, found.wrong_side) == (10, 0, 0, 0)
    assert found.contact_ms.median == pytest.approx(5.0)
    assert found.contact_ms.sd == pytest.approx(0.0, abs=1e-9)
    assert found.toe_off_ms.median == pytest.approx(10.0)
    assert found.shank_deg.median == pytest.approx(-1.5)
    assert found.shank_deg.count == 10
    assert found.shank_share == 1.0
    assert found.longest_verdict_ms == pytest.approx(50.0)


def test_a_contact_left_out_is_missed_and_one_between_is_invented() -> None:
    true = truth(10)
    steps = as_measured(true)
    del steps[4]
    steps.append(replace(steps[0], t_contact_s=true[6].t_contact_s + 0.5 * STEP_S))
    found = match(steps, true, 0.0, 10.0)
    assert found.missed == (true[4],)
    assert found.invented == (steps[-1],)


def test_a_contact_measured_twice_is_invented_once() -> None:
    true = truth(10)
    steps = as_measured(true)
    steps.append(replace(steps[3], t_contact_s=steps[3].t_contact_s + 0.03))
    found = score(steps, true, 0.0, 10.0)
    assert (found.missed, found.invented) == (0, 1)
    assert found.contact_ms.sd == pytest.approx(0.0, abs=1e-9)  # the nearer one is taken


def test_steps_of_contacts_that_do_not_count_are_not_invented_but_others_are() -> None:
    true = truth(10)
    steps = as_measured(true)
    # From 2.2 s on the true contacts 4 to 10 count; the last one's toe-off lies after 4.4 s.
    assert score(steps, true, 2.2, 4.4).contacts == 5
    assert score(steps, true, 2.2, 4.4).invented == 0
    early = replace(steps[0], t_contact_s=true[1].t_contact_s + 0.5 * STEP_S)
    before = replace(steps[0], t_contact_s=0.5)
    assert score([*steps, early, before], true, 2.2, 4.4).invented == 2


def test_a_wrong_side_is_matched_and_counted() -> None:
    true = truth(10)
    steps = as_measured(true)
    steps[2] = replace(steps[2], side="left" if steps[2].side == "right" else "right")
    found = score(steps, true, 0.0, 10.0)
    assert (found.missed, found.invented, found.wrong_side) == (0, 0, 1)


def test_step_rate_is_of_the_longest_unbroken_run() -> None:
    true = truth(12)
    steps = as_measured(true)
    assert score(steps, true, 0.0, 10.0).rate_spm == pytest.approx(0.0, abs=1e-9)
    # 1 ms longer in every step: 60 / 0.361 - 60 / 0.360
    slow = [replace(s, step_time_s=s.step_time_s and s.step_time_s + 0.001) for s in steps]
    assert score(slow, true, 0.0, 10.0).rate_spm == pytest.approx(-0.4617, abs=1e-4)
    # After a missed contact a step is twice as long, and its time belongs to no run.
    broken = [*steps[:4], replace(steps[5], step_time_s=2.0 * STEP_S), *steps[6:]]
    assert score(broken, true, 0.0, 10.0).rate_spm == pytest.approx(0.0, abs=1e-9)


def test_uneven_steps_at_both_ends_do_not_scatter_the_step_rate() -> None:
    true = truth(12)
    noise_s = [0.004 * math.sin(7.0 * i) for i in range(12)]
    steps = as_measured(true)
    steps = [
        replace(
            s,
            t_contact_s=s.t_contact_s + noise_s[i],
            step_time_s=STEP_S + noise_s[i] - noise_s[i - 1] if i else None,
        )
        for i, s in enumerate(steps)
    ]
    off = score(steps, true, 0.0, 10.0).rate_spm
    mean_s = STEP_S + (noise_s[-1] - noise_s[0]) / 11.0
    assert off == pytest.approx(60.0 / mean_s - 60.0 / STEP_S, abs=1e-9)


def test_no_two_contacts_in_a_row_have_no_step_rate() -> None:
    true = truth(6)
    assert score(as_measured(true)[::2], true, 0.0, 10.0).rate_spm is None


def test_agreement_counts_landings_clearly_off_a_limit() -> None:
    true = truth(1, shank_deg=6.0)
    clear = [limit for limit in LIMITS_DEG if abs(6.0 - limit) > 3.0]
    assert clear == [2, 10, 11, 12]
    right = as_measured(true)
    high = as_measured(true, deg=4.5)  # 10.5 deg: wrong at a limit of 10 only
    assert agreement(list(zip(right, true, strict=True))) == 1.0
    assert agreement(list(zip(high, true, strict=True))) == pytest.approx(0.75)
    silent = [replace(s, shank_at_verdict_deg=None) for s in right]
    assert agreement(list(zip(silent, true, strict=True))) is None


def test_nothing_to_compare_with_is_refused() -> None:
    with pytest.raises(ValueError, match="no true contact"):
        score([], truth(3), 50.0, 60.0)


def test_a_perfect_run_misses_no_bound() -> None:
    assert missed_bounds(perfect(), USUAL) == ()
    assert missed_bounds(perfect(), USUAL, LearnedView(0.0, 0.0)) == ()


@pytest.mark.parametrize(
    ("bound", "change"),
    [
        ("missed", {"missed": 1}),
        ("invented", {"invented": 1}),
        ("right_side_share", {"wrong_side": 1}),  # 90 %
        ("contact_median_ms", {"contact_ms": Spread(-8.1, 3.0, 10)}),
        ("contact_sd_ms", {"contact_ms": Spread(0.0, 8.1, 10)}),
        ("toe_off_median_ms", {"toe_off_ms": Spread(-12.1, 3.0, 10)}),
        ("toe_off_sd_ms", {"toe_off_ms": Spread(0.0, 12.1, 10)}),
        ("rate_spm", {"rate_spm": -0.31}),
        ("shank_median_deg", {"shank_deg": Spread(1.01, 1.0, 10)}),
        ("shank_sd_deg", {"shank_deg": Spread(0.0, 2.01, 10)}),
        ("shank_share", {"shank_share": 0.94}),
        ("agreement", {"agreement": 0.969}),
        ("verdict_ms", {"longest_verdict_ms": 80.1}),
    ],
)
def test_each_bound_is_missed_by_itself(bound: str, change: dict[str, object]) -> None:
    misses = missed_bounds(replace(perfect(), **change), USUAL)
    assert [miss.bound for miss in misses] == [bound]


@pytest.mark.parametrize(
    "change",
    [
        {"contact_ms": Spread(8.0, 8.0, 10), "toe_off_ms": Spread(-12.0, 12.0, 10)},
        {"rate_spm": 0.3, "shank_deg": Spread(-1.0, 2.0, 10), "shank_share": 0.95},
        {"agreement": 0.97, "longest_verdict_ms": 80.0},
    ],
)
def test_the_ends_belong_to_the_bounds(change: dict[str, object]) -> None:
    assert missed_bounds(replace(perfect(), **change), USUAL) == ()


def test_a_learned_view_has_bounds_of_its_own() -> None:
    off = missed_bounds(perfect(), USUAL, LearnedView(-0.021, 0.51))
    assert off == (Miss("scale_share", -0.021, 0.02), Miss("slope_deg", 0.51, 0.5))
    assert str(off[0]) == "scale_share -0.021 (0.02)"
    nothing = missed_bounds(perfect(), USUAL, LearnedView(None, None))
    assert [miss.bound for miss in nothing] == ["scale_share", "slope_deg"]


def test_what_is_not_known_misses_its_bound() -> None:
    nothing = Spread(None, None, 0)
    unknown = replace(
        perfect(),
        missed=10,
        contact_ms=nothing,
        toe_off_ms=nothing,
        shank_deg=nothing,
        shank_share=0.0,
        rate_spm=None,
        longest_verdict_ms=None,
        agreement=None,
    )
    assert {m.bound for m in missed_bounds(unknown, USUAL)} == {
        "missed", "right_side_share", "contact_median_ms", "contact_sd_ms", "toe_off_median_ms",
        "toe_off_sd_ms", "rate_spm", "shank_median_deg", "shank_sd_deg", "shank_share",
        "agreement", "verdict_ms",
    }  # fmt: skip


def test_not_a_number_misses_its_bound() -> None:
    odd = replace(perfect(), rate_spm=math.nan, agreement=math.nan)
    assert [m.bound for m in missed_bounds(odd, USUAL)] == ["rate_spm", "agreement"]


def test_slow_cameras_are_allowed_more_of_contact_and_delay_alone() -> None:
    assert bounds_at(60.0) is USUAL
    assert bounds_at(45.0) is USUAL
    assert bounds_at(30.0) is SLOW_CAMERA
    assert (SLOW_CAMERA.contact_median_ms, SLOW_CAMERA.contact_sd_ms) == (10.0, 12.0)
    assert SLOW_CAMERA.verdict_ms == 120.0
    assert replace(SLOW_CAMERA, contact_median_ms=8.0, contact_sd_ms=8.0, verdict_ms=80.0) == USUAL
