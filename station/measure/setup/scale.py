"""The scale at the runner's plane from a known length, and the belt's slope from two points."""

from __future__ import annotations

import math
from dataclasses import dataclass

from station.measure.setup.lines import Point, roll_of
from station.values import Facing

CLICK_PX = 1.0
"""How far off a careful hand marks a point."""


@dataclass(frozen=True, slots=True)
class Scale:
    """Pixels per metre, and how sure."""

    px_per_m: float
    error_share: float
    """From the hand that marked the two ends: a share of the scale."""


def scale_of(start: Point, end: Point, length_m: float, click_px: float = CLICK_PX) -> Scale | None:
    """Return the scale that a known length in the picture gives.

    Args:
        start: One end, image pixels.
        end: The other.
        length_m: How long it is, metres; it lies in the runner's plane, square to the camera.
        click_px: How far off either end may be marked.

    Returns:
        The scale; None where the length or the distance is nothing.
    """
    apart = math.dist(start, end)
    if apart <= 0.0 or not (length_m > 0.0 and math.isfinite(length_m)):
        return None
    return Scale(apart / length_m, math.sqrt(2.0) * click_px / apart)


def belt_rise_deg(start: Point, end: Point, roll_deg: float, faces: Facing = "right") -> float:
    """Return the belt's slope against the horizontal, degrees, positive uphill ahead.

    Args:
        start: A point on the belt's surface, image pixels.
        end: Another, in any order.
        roll_deg: The camera's roll, which is taken out.
        faces: The way the runner faces in the picture.
    """
    downhill_right = roll_of(start, end, "level") - roll_deg
    return -downhill_right if faces == "right" else downhill_right
