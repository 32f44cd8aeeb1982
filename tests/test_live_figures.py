"""What the session's file tells of each drill: figures per leg, and changes that may be told."""

from __future__ import annotations

import json

import pytest

from station.coach.plan import Drill
from station.coach.verdict import landing_limits
from station.live.figures import told_drills
from station.live.record import DrillRun
from station.values import Step, StepRecord

STEP_S = 0.36
SMALLEST = {"shank_deg": 4.8}  # Dingenen 2018, Phys Ther Sport 33:40-47: 2.2 to 4.8 deg


def run(
    number: int, shank_deg: float, mps: float = 2.5, steps: int = 20, faster: float = 0.0
) -> DrillRun:
    drill = Drill("Easy", belt_speed_mps=mps, seconds=60.0)
    made = DrillRun(number, drill, 0.0, landing_limits(drill, None), belt_mps=mps)
    for i in range(steps):
        speed = mps + (faster if i > steps // 2 else 0.0)
        step = Step(
            i, "left" if i % 2 else "right", i % 2 == 0, i * STEP_S, 0.0, step_time_s=STEP_S,
            step_length_m=speed * STEP_S, shank_deg=shank_deg,
        )  # fmt: skip
        made.records.append(StepRecord(step, "Easy", "within", False, None, None))
    return made


def test_each_drill_has_its_legs_figures_beside_what_it_told_before() -> None:
    (told,) = told_drills([run(1, 8.0)], SMALLEST)
    assert told["name"] == "Easy"
    assert told["landings"] == 20
    assert told["measures"]["right"]["measures"]["shank_deg"]["median"] == 8.0
    assert told["measures"]["right"]["near"] is True
    assert told["measures"]["left"]["within_share"] == 1.0
    assert told["changes"] is None
    assert json.loads(json.dumps(told, allow_nan=False))


def test_too_few_steps_give_no_figures() -> None:
    (told,) = told_drills([run(1, 8.0, steps=12)], SMALLEST)
    assert told["measures"] == {"left": None, "right": None}


def test_changes_are_against_the_first_drill_at_the_same_belt() -> None:
    runs = [run(1, 10.0), run(2, 10.0, mps=3.0), run(3, 8.0), run(4, 4.0)]
    told = [one["changes"] for one in told_drills(runs, SMALLEST)]
    assert told[:2] == [None, None]
    assert told[2] == {"since_drill": 1, "left": {}, "right": {}}  # 2 deg: not detectable
    assert told[3]["since_drill"] == 1
    assert told[3]["right"]["shank_deg"] == pytest.approx(
        {"before": 10.0, "after": 4.0, "smallest": 4.8}
    )


def test_a_belt_changed_within_a_drill_compares_with_nothing() -> None:
    told = told_drills([run(1, 10.0, faster=0.3), run(2, 4.0), run(3, 4.0)], SMALLEST)
    assert told[1]["changes"] is None
    assert told[2]["changes"] == {"since_drill": 2, "left": {}, "right": {}}
