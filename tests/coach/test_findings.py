"""Feel gap, effect of withheld cues and rate test on rows with known answers."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from station.coach.cue_effect import LEAST_EACH, cue_effect
from station.coach.feel_gap import LEAST_JUDGED, feel_gap
from station.coach.rate_test import RateBlock, rate_test
from station.values import Belt, Step, StepRecord

BELT = Belt(2.68)


# --- feel gap -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("answer", "within", "judged", "gap", "note"),
    [
        (8, 60, 100, 0.2, None),
        (3, 60, 100, -0.3, None),
        (10, 20, 20, 0.0, None),
        (0, 20, 20, -1.0, None),
        (8, 6, 12, 0.3, "only 12 landings judged, under 20"),
        (8, 0, 0, None, "no landing was judged"),
        (None, 60, 100, None, "no answer"),
    ],
)
def test_the_feel_gap_is_felt_minus_true(answer, within, judged, gap, note):
    found = feel_gap(answer, within, judged)
    assert found.gap == (None if gap is None else pytest.approx(gap))
    assert found.note == note
    assert found.as_dict()["judged"] == judged
    assert LEAST_JUDGED == 20


# --- the cue's effect ---------------------------------------------------------------------------


def rows(pairs, scatter_deg=0.0, base_deg=10.0, seed=1, side="left"):
    """Make one leg's steps: a landing ahead, cued or withheld, and the next one of that leg.

    `pairs` holds (cued, change of the next landing's shank, whether it is ahead).
    """
    rng = np.random.default_rng(seed)
    made, t_s = [], 0.0
    for cued, change_deg, ahead in pairs:
        one = Step(len(made), side, True, t_s, t_s + 0.05, shank_deg=12.0)
        cue_s = t_s + 0.1 if cued else None
        made.append(StepRecord(one, "A", "ahead", cued, cue_s, None, withheld=not cued))
        after_deg = base_deg + change_deg + scatter_deg * float(rng.standard_normal())
        two = Step(len(made), side, True, t_s + 0.7, t_s + 0.75, shank_deg=after_deg)
        verdict = "ahead" if ahead else "within"
        made.append(StepRecord(two, "A", verdict, False, None, None))
        t_s += 1.4
    return made


def test_the_difference_is_that_of_the_next_landings():
    pairs = [(True, -1.5, i % 4 == 0) for i in range(40)]
    pairs += [(False, 0.0, i % 2 == 0) for i in range(40)]
    found = cue_effect([rows(pairs)])
    assert (found.cued, found.withheld, found.note) == (40, 40, None)
    assert found.shank_deg.difference == pytest.approx(-1.5)
    assert (found.shank_deg.after_cued, found.shank_deg.after_withheld) == (8.5, 10.0)
    assert found.share_ahead.difference == pytest.approx(-0.25)
    assert (found.share_ahead.after_cued, found.share_ahead.after_withheld) == (0.25, 0.5)
    # Two proportions: p (1 - p) / (n - 1) each.
    error = math.sqrt(0.25 * 0.75 / 39 + 0.5 * 0.5 / 39)
    assert found.share_ahead.error == pytest.approx(error)


def test_its_interval_holds_the_truth_as_often_as_it_says():
    """300 sessions with a true effect of -1 deg: 95 % within, four standard errors allowed."""
    held = 0
    for seed in range(300):
        pairs = [(True, -1.0, False)] * 40 + [(False, 0.0, False)] * 25
        found = cue_effect([rows(pairs, 2.0, seed=seed)]).shank_deg
        held += found.low <= -1.0 <= found.high
        assert found.error == pytest.approx(2.0 * math.sqrt(1 / 40 + 1 / 25), rel=0.35)
    assert held / 300 >= 0.95 - 4.0 * math.sqrt(0.95 * 0.05 / 300)


def test_drills_and_legs_that_differ_by_themselves_do_not_make_an_effect():
    """Cues were mostly withheld where the runner reached less anyway; the effect is still none."""
    much = [(i % 4 != 0, 0.0, False) for i in range(80)]
    little = [(i % 4 == 0, 0.0, False) for i in range(80)]
    found = cue_effect([rows(much, base_deg=12.0), rows(little, base_deg=6.0)])
    assert found.shank_deg.after_cued - found.shank_deg.after_withheld > 2.0
    assert found.shank_deg.difference == pytest.approx(0.0)
    both = rows(much, base_deg=12.0), rows(little, base_deg=6.0, side="right")
    assert cue_effect([[*both[0], *both[1]]]).shank_deg.difference == pytest.approx(0.0)


@pytest.mark.parametrize(("cued", "withheld"), [(LEAST_EACH - 1, 90), (90, LEAST_EACH - 1)])
def test_too_few_tell_nothing(cued, withheld):
    pairs = [(True, -1.5, False)] * cued + [(False, 0.0, False)] * withheld
    found = cue_effect([rows(pairs)])
    assert (found.shank_deg, found.share_ahead) == (None, None)
    assert (found.cued, found.withheld) == (cued, withheld)
    assert "too few" in found.note


def test_without_a_withheld_cue_there_is_no_effect():
    assert cue_effect([]) is None
    assert cue_effect([rows([(True, -1.5, False)] * 50)]) is None


def test_only_the_same_legs_next_landing_soon_after_counts():
    pairs = [(i % 2 == 0, 0.0, False) for i in range(100)]
    late = [
        replace(r, step=replace(r.step, t_contact_s=3 * r.step.t_contact_s)) for r in rows(pairs)
    ]
    assert cue_effect([late]).cued == 0
    unseen = [replace(r, step=replace(r.step, shank_deg=None)) for r in rows(pairs)]
    assert cue_effect([unseen]).cued == 0
    silent = [replace(r, cued=False, withheld=False) for r in rows(pairs)]
    counted = cue_effect([[*silent, *rows(pairs)[:4]]])
    assert (counted.cued, counted.withheld) == (1, 1)


# --- the rate test ------------------------------------------------------------------------------


def block(number, rise, share=1.0, **changes):
    """Make a block of 50 landings a leg, `rise` percent over 170."""
    target_spm = 170.0 * (1.0 + rise / 100.0)
    leg = (round(50 * share), 50)
    return replace(
        RateBlock(number, f"+{rise} %", BELT, target_spm, target_spm, leg, leg), **changes
    )


def test_the_smallest_rise_with_both_legs_within_is_found():
    blocks = [block(1, 0, 0.5), block(2, 2.5, 0.8), block(3, 5, 0.9), block(4, 7.5, 1.0)]
    for order in (blocks, blocks[::-1]):
        found = rate_test(order, 170.0)
        assert found.smallest_rise_percent == pytest.approx(5.0)
        assert found.step_rate_spm == pytest.approx(178.5)
        assert [b.met for b in sorted(found.blocks, key=lambda b: b.number)] == [
            False, False, True, True,
        ]  # fmt: skip
        assert found.note is None


def test_the_own_rate_may_be_enough():
    assert rate_test([block(1, 5), block(2, 0)], 170.0).smallest_rise_percent == pytest.approx(0.0)


def test_one_leg_is_not_enough():
    found = rate_test([block(1, 5, right=(44, 50)), block(2, 10, left=(0, 50))], 170.0)
    assert found.smallest_rise_percent is None
    assert found.step_rate_spm is None
    assert found.note == "no rise was within 90% on both legs"
    assert found.blocks[0].share_right == pytest.approx(0.88)


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"rate_spm": 170.0}, "step rate not held: 170.0 for 178.5"),
        ({"rate_spm": None}, "no step rate was measured"),
        ({"target_spm": None}, "no target step rate"),
        ({"belt": Belt(3.0)}, "another belt setting"),
        ({"belt": Belt(2.68, 4.0)}, "another belt setting"),
        ({"left": (19, 19)}, "left: only 19 landings judged"),
        ({"right": (0, 0)}, "right: only 0 landings judged"),
        ({"target_spm": 160.0, "rate_spm": 160.0}, "below the runner's own"),
    ],
)
def test_blocks_that_do_not_count_say_why(changes, why):
    blocks = [block(1, 0, 0.5), block(2, 5, **changes), block(3, 10)]
    found = rate_test(blocks, 170.0)
    assert found.smallest_rise_percent == pytest.approx(10.0)
    assert why in found.blocks[1].left_out
    assert not found.blocks[1].met
    assert found.blocks[0].left_out is None


def test_blocks_of_one_rise_are_counted_together():
    """Run twice under one number (a drill that was repeated): 100 and 70 % are 85."""
    found = rate_test([block(2, 5, 1.0), block(2, 5, 0.7), block(3, 10, 1.0)], 170.0)
    assert found.smallest_rise_percent == pytest.approx(10.0)
    assert [b.met for b in found.blocks] == [False, False, True]


def test_without_an_own_rate_or_a_block_there_is_no_answer():
    assert rate_test([], 170.0) is None
    found = rate_test([block(1, 5)], None)
    assert found.smallest_rise_percent is None
    assert found.note == "no block counts"
    assert "own step rate" in found.blocks[0].left_out
