from __future__ import annotations

import json
import math
from dataclasses import replace

import numpy as np
import pytest

from station.coach.summary import beat_summary, summarise_drill


def test_a_drill_is_summed_up_per_leg(record):
    rows = [
        record("left", "within", shank_deg=5.0, step_time_s=0.40),
        record("left", "ahead", shank_deg=11.0, step_time_s=0.30, cued=True),
        record("left", None, shank_deg=None, step_time_s=None),
        record("right", "ahead", shank_deg=10.0, step_time_s=0.30, cued=True),
    ]
    made = summarise_drill("A", rows)
    assert (made.name, made.landings, made.cues) == ("A", 4, 2)
    assert (made.left.landings, made.left.within, made.left.ahead, made.left.unjudged) == (
        3, 1, 1, 1,
    )  # fmt: skip
    assert made.left.share_ahead == 0.5
    assert made.left.median_shank_deg == 8.0
    assert made.right.share_ahead == 1.0
    assert made.share_ahead == pytest.approx(2 / 3)
    assert made.share_within == pytest.approx(1 / 3)
    assert made.share_unjudged == 0.25
    assert made.step_rate_spm == pytest.approx(200.0)
    assert made.beat is None


def test_a_drill_without_steps_is_empty_and_fit_for_json():
    made = summarise_drill("A", [], 0.35)
    assert (made.landings, made.cues) == (0, 0)
    assert made.share_ahead is made.step_rate_spm is made.left.median_shank_deg is None
    assert json.loads(json.dumps(made.as_dict(), allow_nan=False))["left"]["landings"] == 0


def test_steps_that_are_steadily_early_are_locked(record):
    """Runners step a little before the beat (Buhmann 2018, PLoS ONE 13:e0208702)."""
    rows = [record(beat_offset_s=-0.060 + d) for d in (-0.01, 0.0, 0.01) * 10]
    beat = summarise_drill("A", rows, 60 / 170).beat
    assert beat is not None
    assert beat.mean_offset_s == pytest.approx(-0.060, abs=1e-6)
    assert beat.share_locked == 1.0
    assert beat.concentration > 0.98


def test_steps_of_a_ramp_count_as_shares_of_their_own_step(record):
    """A tenth of a step early throughout, while the beat goes from 150 to 180 a minute."""
    periods_s = np.linspace(0.40, 1 / 3, 30)
    rows = [replace(record(beat_offset_s=-0.1 * one), beat_period_s=one) for one in periods_s]
    beat = summarise_drill("A", rows, 1 / 3).beat
    assert beat is not None
    assert beat.concentration == pytest.approx(1.0)
    assert beat.mean_offset_s == pytest.approx(-0.1 / 3)


def test_offsets_meet_across_half_a_period():
    """Half a period early and half a period late are the same place on the circle."""
    beat = beat_summary([0.17, -0.17, 0.175, -0.175] * 5, 0.35)
    assert beat is not None
    assert beat.concentration > 0.99
    assert abs(beat.mean_offset_s) > 0.17
    assert beat.share_locked == 1.0


def test_steps_all_over_the_beat_have_no_mean_offset():
    spread = list(np.arange(8) / 8 * 0.35 - 0.175)
    beat = beat_summary(spread, 0.35)
    assert beat is not None
    assert beat.concentration < 1e-12
    assert beat.mean_offset_s is None
    assert beat.share_locked == 0.0


def test_share_locked_counts_within_a_tenth_of_the_period():
    beat = beat_summary([0.0] * 8 + [0.15, -0.15], 1.0)
    assert beat is not None
    assert beat.share_locked == 0.8


@pytest.mark.parametrize(
    ("offsets_s", "period_s"),
    [([0.0] * 20, None), ([0.0] * 20, 0.0), ([0.0] * 4, 0.35), ([None, math.nan] * 9, 0.35)],
)
def test_without_a_beat_or_with_too_few_steps_there_is_nothing_to_say(offsets_s, period_s):
    assert beat_summary(offsets_s, period_s) is None
