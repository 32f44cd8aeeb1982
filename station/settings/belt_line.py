"""Whether a bay's belt line can be that of the incline that a plan asks for."""

from __future__ import annotations

import math

from station.coach.plan import Plan
from station.values import ViewProfile

MOST_APART_DEG = 3.0
"""A hand's error on two points and on the treadmill's display together stays under this."""


def belt_line_notices(plan: Plan, view: ViewProfile) -> tuple[str, ...]:
    """Say where the belt line and a drill's incline contradict each other.

    Args:
        plan: Its drills' inclines, percent.
        view: The bay's belt line, image pixels, and roll, degrees. Without a facing the line may
            rise either way; without a line there is nothing to compare.

    Returns:
        One line for each incline that is more than `MOST_APART_DEG` off, with both angles.
    """
    if view.belt_line is None:
        return ()
    (x0, y0), (x1, y1) = sorted(view.belt_line)
    to_right_deg = math.degrees(math.atan2(y0 - y1, x1 - x0)) + view.roll_deg
    rises_deg = {"right": (to_right_deg,), "left": (-to_right_deg,)}.get(
        view.faces or "", (to_right_deg, -to_right_deg)
    )
    told = []
    inclines = {d.belt.incline_percent for d in plan.drills if d.belt is not None}
    for percent in sorted(inclines):
        set_deg = math.degrees(math.atan(percent / 100.0))
        nearest_deg = min(rises_deg, key=lambda deg: abs(deg - set_deg))
        if abs(nearest_deg - set_deg) > MOST_APART_DEG:
            told.append(
                f"the bay's belt_line rises {nearest_deg:.1f} deg ahead of the runner, but "
                f"incline_percent = {percent:g} is {set_deg:.1f} deg: check belt_line, roll_deg "
                "and the incline"
            )
    return tuple(told)
