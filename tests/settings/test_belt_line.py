from __future__ import annotations

import math

import pytest

from station.coach.plan import Drill, Plan
from station.settings.belt_line import belt_line_notices
from station.values import Facing, ViewProfile


def plan_of(*percents: float) -> Plan:
    drills = tuple(Drill("d", belt_speed_mps=2.7, incline_percent=p, seconds=60) for p in percents)
    return Plan("p", drills)


def view_of(rise_deg: float, faces: Facing | None, roll_deg: float = 0.0) -> ViewProfile:
    """A line that rises to the right in the image by so much."""
    up = 800.0 * math.tan(math.radians(rise_deg))
    return ViewProfile(faces, 300.0, ((200.0, 600.0), (1000.0, 600.0 - up)), 1280, 720, roll_deg)


@pytest.mark.parametrize(
    ("rise_deg", "faces", "roll_deg", "percent", "told"),
    [
        (0.0, "right", 0.0, 0.0, 0),
        (2.9, "right", 0.0, 5.0, 0),  # 5 % are 2.9 deg
        (-2.9, "left", 0.0, 5.0, 0),
        (2.9, "left", 0.0, 5.0, 1),  # downhill for who faces left
        (2.9, None, 0.0, 5.0, 0),
        (8.0, "right", 0.0, 0.0, 1),
        (8.0, "right", -8.0, 0.0, 0),  # the camera is turned, not the belt
        (0.0, "right", 0.0, 12.0, 1),
    ],
)
def test_only_what_cannot_be_is_told(
    rise_deg: float, faces: Facing | None, roll_deg: float, percent: float, told: int
) -> None:
    assert len(belt_line_notices(plan_of(percent), view_of(rise_deg, faces, roll_deg))) == told


def test_both_angles_are_named_and_no_line_tells_nothing() -> None:
    (told,) = belt_line_notices(plan_of(0.0, 0.0), view_of(8.0, "right"))
    assert "8.0 deg" in told
    assert "0.0 deg" in told
    assert belt_line_notices(plan_of(12.0), ViewProfile("right")) == ()
