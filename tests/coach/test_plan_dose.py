from __future__ import annotations

import pytest

from station.coach.cueing import fading_interval
from station.coach.plan import Plan, StepRate
from station.coach.plan_dose import (
    cue_share,
    feedback_share,
    hops_of,
    plan_hops,
    plan_seconds,
    seconds_of,
)


@pytest.mark.parametrize(
    ("keys", "seconds"),
    [
        ({"seconds": 90.0}, 90.0),
        ({"seconds": None, "steps": 180, "step_rate": StepRate(spm=180.0)}, 60.0),
        ({"seconds": None, "steps": 170}, 60.0),  # at the usual 170
        ({"seconds": None, "hops": (8, 4), "kind": "hop"}, 60.0 * 24 / 150),
    ],
)
def test_how_long_a_drill_lasts(drill, keys, seconds):
    assert seconds_of(drill(**keys)) == pytest.approx(seconds)


@pytest.mark.parametrize(
    ("keys", "hops"),
    [
        ({"seconds": None, "hops": (8, 4, 3, 2, 1)}, 36),
        ({"seconds": None, "steps": 25}, 25),
        ({"seconds": 20.0}, 50),
        ({"seconds": 20.0, "step_rate": StepRate(spm=121.0)}, 41),  # 40.3: rounded up
    ],
)
def test_how_many_hops_a_drill_asks_for(drill, keys, hops):
    assert hops_of(drill(kind="hop", **keys)) == hops


def test_running_is_no_hopping(drill):
    plan = Plan("P", (drill(), drill(kind="hop", seconds=None, hops=(2,)), drill(kind="rest")))
    assert plan_hops(plan) == 4
    assert plan_seconds(plan) == sum(map(seconds_of, plan.drills))


def test_a_fading_drill_counts_by_its_schedule(drill):
    parts = [1.0 / fading_interval(i / 100) for i in range(100)]
    assert cue_share(drill(feedback="fading")) == pytest.approx(sum(parts) / 100, abs=0.01)
    assert cue_share(drill(feedback="every step")) == 1.0
    assert cue_share(drill(feedback="summary")) == cue_share(drill(feedback="off")) == 0.0


def test_the_share_of_feedback_is_of_practice_by_time(drill):
    own = drill(feedback="off", beat=False)
    rest = drill(kind="rest", seconds=600.0)
    cued, alone = drill(seconds=30.0), drill(seconds=90.0, feedback="off", beat=False)
    assert feedback_share(Plan("P", (own, rest, cued))) == 1.0
    assert feedback_share(Plan("P", (own, own, cued, rest, alone))) == pytest.approx(0.25)
    assert feedback_share(Plan("P", (own, rest, own))) is None
