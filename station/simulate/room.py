"""The room and the treadmill around the simulated runner: drawn once, then copied."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from station.simulate.brush import Brush, Colour
from station.values import Floats, View

DECK_REAR_M = -0.86
DECK_FRONT_M = 0.74
BELT_HALF_M = 0.05
"""Half of the belt's breadth as it appears from a camera at hip height, metres of height."""
_MARK_PERIOD_M = 0.9
_DEPTH = 0.03
"""How much larger the belt's near edge appears than its middle, and its far edge smaller."""
# Marks on the belt: place in the period, length, colour.
_MARKS: tuple[tuple[float, float, Colour], ...] = (
    (0.00, 0.060, (150, 150, 150)),
    (0.28, 0.025, (72, 72, 74)),
    (0.47, 0.110, (48, 48, 50)),
    (0.70, 0.020, (76, 76, 78)),
)
_BELT: Colour = (58, 58, 60)


def along_belt(view: View, points: Floats) -> Floats:
    """Return bay points of points (n, 2), metres along and square to the belt's middle line."""
    rise = math.radians(view.belt_rise_deg)
    along = np.array([math.cos(rise), math.sin(rise)])
    over = np.array([-math.sin(rise), math.cos(rise)])
    return np.asarray(points[:, :1] * along + points[:, 1:] * over)


def box(x0: float, y0: float, x1: float, y1: float) -> Floats:
    """Return the corners (4, 2) of an upright box."""
    return np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])


def draw_room(view: View, width: int, height: int, light: float) -> NDArray[np.uint8]:
    """Draw the empty room with the treadmill.

    Args:
        view: How the bay lies in the image.
        width: Image width in pixels.
        height: Image height in pixels.
        light: Factor on every brightness, 1 is full light.

    Returns:
        (height, width, 3) BGR.
    """
    rows = np.arange(height, dtype=np.float64)[:, None, None]
    columns = np.linspace(-1.0, 1.0, width)[None, :, None]
    wall = np.array([206.0, 208.0, 206.0]) - 22.0 * (columns**2) - 14.0 * rows / height
    image = np.clip(wall * light, 0, 255).astype(np.uint8)
    brush = Brush(image, view, light)
    half_m = width / view.px_per_m  # wider than the image on both sides
    brush.polygon(box(-half_m, 0.16, half_m, 0.24), (176, 178, 180))  # skirting
    brush.polygon(box(-half_m, -2.0, half_m, 0.17), (112, 116, 122))  # floor
    _draw_window(brush, 1.35)
    _draw_treadmill(brush, view)
    return image


def _draw_window(brush: Brush, x: float) -> None:
    brush.polygon(box(x, 1.15, x + 0.60, 1.75), (120, 126, 130))
    brush.polygon(box(x + 0.03, 1.18, x + 0.57, 1.72), (226, 218, 204))
    brush.polygon(box(x + 0.03, 1.18, x + 0.57, 1.36), (150, 180, 160))


def _draw_treadmill(brush: Brush, view: View) -> None:
    def put(points: Floats, colour: Colour) -> None:
        brush.polygon(along_belt(view, points), colour)

    # Far rail and upright stand behind the runner, so that they never cover a leg.
    put(np.array([(0.88, 0.0), (0.95, 0.0), (0.83, 1.10), (0.77, 1.10)]), (138, 138, 140))
    put(np.array([(0.90, 0.0), (0.93, 0.0), (0.81, 1.10), (0.79, 1.10)]), (172, 172, 174))
    put(np.array([(0.48, 0.955), (0.80, 0.985), (0.80, 1.015), (0.48, 0.985)]), (70, 70, 74))
    put(np.array([(0.72, 1.04), (0.90, 1.08), (0.86, 1.30), (0.70, 1.22)]), (52, 52, 56))
    put(np.array([(0.71, 1.08), (0.735, 1.08), (0.715, 1.20), (0.70, 1.195)]), (170, 130, 60))
    # Deck, belt, side frame, hood.
    put(box(DECK_REAR_M - 0.06, -0.19, DECK_FRONT_M + 0.36, -0.10), (44, 44, 46))
    put(box(DECK_REAR_M - 0.05, -0.11, DECK_FRONT_M + 0.04, -BELT_HALF_M), (150, 150, 152))
    put(box(DECK_REAR_M - 0.05, -0.115, DECK_FRONT_M + 0.04, -0.095), (112, 112, 114))
    put(_belt_patch(DECK_REAR_M, DECK_FRONT_M), _BELT)
    put(
        np.array([(DECK_FRONT_M, -0.13), (1.10, -0.13), (1.10, 0.04), (1.02, 0.12), (0.78, 0.13)]),
        (62, 62, 66),
    )
    put(np.array([(0.76, -0.11), (1.08, -0.11), (1.08, 0.02), (0.80, 0.08)]), (74, 74, 78))


def _belt_patch(rear_m: float, front_m: float) -> Floats:
    """Outline of a part of the belt, the far edge smaller.

    Its middle is at the runner's own plane, where a metre has the view's scale.
    """
    return np.array(
        [
            (rear_m * (1.0 + _DEPTH), -BELT_HALF_M),
            (front_m * (1.0 + _DEPTH), -BELT_HALF_M),
            (front_m * (1.0 - _DEPTH), BELT_HALF_M),
            (rear_m * (1.0 - _DEPTH), BELT_HALF_M),
        ]
    )


def draw_belt_marks(brush: Brush, view: View, travel_m: float) -> None:
    """Draw the belt's pattern where it has moved to.

    Args:
        brush: What to paint with.
        view: How the bay lies in the image.
        travel_m: How far the belt has run; its upper side runs backwards.
    """
    for place_m, length_m, colour in _MARKS:
        rear_m = DECK_REAR_M + (place_m - travel_m - DECK_REAR_M) % _MARK_PERIOD_M - _MARK_PERIOD_M
        while rear_m < DECK_FRONT_M:
            low, high = max(rear_m, DECK_REAR_M), min(rear_m + length_m, DECK_FRONT_M)
            if high > low:
                brush.polygon(along_belt(view, _belt_patch(low, high)), colour)
            rear_m += _MARK_PERIOD_M


def draw_shadow(brush: Brush, view: View, heel: Floats, toe: Floats) -> None:
    """Darken the belt under a shoe; the shadow narrows as the shoe lifts.

    Args:
        brush: What to paint with.
        view: How the bay lies in the image.
        heel: (2,) rear end of the sole, bay frame, metres.
        toe: (2,) front end of the sole.
    """
    lift = float(np.clip(min(view.belt_height_m(heel), view.belt_height_m(toe)), 0.0, 0.25))
    middle, half = (heel[0] + toe[0]) / 2.0, abs(toe[0] - heel[0]) / 2.0 + 0.03 - 0.08 * lift
    if half <= 0.0 or not DECK_REAR_M < middle < DECK_FRONT_M:
        return
    turn = np.linspace(0.0, 2.0 * math.pi, 20, endpoint=False)
    tall = 0.026 * (1.0 - 2.0 * lift)
    points = np.stack([middle + half * np.cos(turn), -0.004 + tall * np.sin(turn)], axis=1)
    grey = 36.0 + 70.0 * lift
    brush.polygon(along_belt(view, points), (grey, grey, grey + 1.0))
