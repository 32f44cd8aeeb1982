from __future__ import annotations

from dataclasses import replace

import pytest

from station.coach.posture_watch import Bounce, Heel, Lean, PostureRule, Strike
from station.values import Belt, Step

RULE = PostureRule(bounce_change_m=0.010)
BELT = Belt(2.7)


def step(**measured):
    return Step(1, "right", True, 1.0, 1.1, **measured)


def lean_after(lean, count=12, **measured):
    for _ in range(count):
        lean.add(step(**measured))
    return lean.key


@pytest.mark.parametrize(
    ("body_deg", "trunk_deg", "key"),
    [
        (6.0, 6.0, None),
        (2.0, 2.0, "lean_more"),
        (12.0, 12.0, "lean_less"),
        (6.0, 17.0, "lean_from_ankles"),
        (6.0, None, None),
        (None, 30.0, None),
    ],
)
def test_lean_is_held_against_a_small_range(body_deg, trunk_deg, key):
    assert lean_after(Lean(RULE), body_lean_deg=body_deg, trunk_lean_deg=trunk_deg) == key


def test_lean_is_taken_back_only_well_inside():
    lean = Lean(RULE)
    assert lean_after(lean, body_lean_deg=2.5) == "lean_more"
    assert lean_after(lean, body_lean_deg=3.5) == "lean_more"
    assert lean_after(lean, body_lean_deg=4.5) is None
    assert lean_after(lean, body_lean_deg=3.5) is None


@pytest.mark.parametrize(
    ("target", "strike", "key"),
    [
        (None, "rearfoot", None),
        ("midfoot", "rearfoot", "land_midfoot"),
        ("midfoot", "midfoot", None),
        ("midfoot", "forefoot", None),
        ("forefoot", "midfoot", "land_forefoot"),
        ("forefoot", "forefoot", None),
        ("forefoot", "unsure", None),
    ],
)
def test_a_strike_is_corrected_only_against_a_target(drill, landing, target, strike, key):
    watch = Strike(drill(strike_target=target), RULE)
    for _ in range(12):
        watch.add(replace(landing(), strike=strike))
    assert watch.key == key


def test_a_strike_now_and_then_is_not_corrected(drill, landing):
    watch = Strike(drill(strike_target="midfoot"), RULE)
    keys = set()
    for i in range(60):
        watch.add(replace(landing(), strike="rearfoot" if i % 3 == 0 else "midfoot"))
        keys.add(watch.key)
    assert keys == {None}


@pytest.mark.parametrize(
    ("asked", "measured", "key"),
    [
        ({}, {"toe_dive": True}, None),
        ({"heel_settles": True}, {"toe_dive": False, "heel_down_s": 0.05}, None),
        ({"heel_settles": True}, {"toe_dive": False}, "let_heel_settle"),
        ({"heel_settles": True}, {"toe_dive": True}, "let_heel_settle"),
        ({"strike_target": "forefoot"}, {"toe_dive": True}, "let_heel_settle"),
        ({"strike_target": "forefoot"}, {"toe_dive": False}, None),
        ({"heel_settles": True}, {"toe_dive": None}, None),
    ],
)
def test_the_heel_is_to_settle_where_the_drill_asks_for_it(drill, asked, measured, key):
    heel = Heel(drill(**asked), RULE)
    for _ in range(6):
        heel.add(step(**measured))
    assert heel.key == key
    assert heel.diving == bool(asked and measured["toe_dive"])


def bounce_on(drill, alone_m, now_m, rule=RULE, belt=BELT, alone_steps=20):
    bounce = Bounce(rule)
    bounce.start_drill()
    for _ in range(alone_steps):
        bounce.add(step(vertical_oscillation_m=alone_m), drill(feedback="off", beat=False), BELT)
    assert not bounce.on
    bounce.start_drill()
    for _ in range(20):
        bounce.add(step(vertical_oscillation_m=now_m), drill(), belt)
    return bounce.on


@pytest.mark.parametrize(
    ("alone_m", "now_m", "on"),
    [
        (0.08, 0.100, True),
        (0.08, 0.094, False),  # beyond what can be told, yet not well above
        (0.08, 0.080, False),
        (0.03, 0.038, False),  # well above, yet within what cannot be told
        (0.03, 0.042, True),
    ],
)
def test_bounce_is_held_against_the_runners_own(drill, alone_m, now_m, on):
    assert bounce_on(drill, alone_m, now_m) == on


def test_bounce_without_a_baseline_at_this_belt_or_a_known_change_is_not_corrected(drill):
    assert not bounce_on(drill, 0.08, 0.15, PostureRule())
    assert not bounce_on(drill, 0.08, 0.15, belt=Belt(3.5))
    assert not bounce_on(drill, 0.08, 0.15, belt=None)
    assert not bounce_on(drill, 0.08, 0.15, alone_steps=5)
