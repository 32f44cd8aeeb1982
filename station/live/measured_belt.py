"""Puts beside the belt speed that is asked what the belt is seen to run at."""

from __future__ import annotations

from dataclasses import replace

from station.coach.scene import DrillStatus
from station.units import format_speed, parse_speed
from station.values import Belt, Observation

SAME_SHARE = 0.05
"""A measured speed within this share of the asked one is that speed."""


def measured_belt(status: DrillStatus, asked: Belt | None, seen: Observation | None) -> DrillStatus:
    """Return the status with the measured belt speed, in the unit of the asked one.

    Args:
        status: The drill's.
        asked: What the belt is to be set to; None: it stands, and nothing is added.
        seen: The newest observation; None: none yet.
    """
    mps = None if seen is None else seen.belt_mps
    if mps is None or asked is None or status.belt_speed is None:
        return status
    unit = parse_speed(status.belt_speed).unit
    off = mps / asked.speed_mps - 1.0
    rises = None if abs(off) <= SAME_SHARE else off < 0.0
    return replace(status, belt_measured=format_speed(mps, unit, 1), belt_rises=rises)
