"""The shapes of the simulated runner's limbs and trunk: outlines along a bone, shaded in bands.

Widths are metres of a runner 1.75 m tall and scale with height. They are drawn by eye and then
set so that the pose model finds knee and ankle where the joint is about contact: what it marks
depends on the outline around the joint. So the joint lies a little before the middle of the knee,
and a little behind the middle of the ankle.
"""

from __future__ import annotations

import math

import numpy as np

from station.simulate.brush import Brush, Colour, Shape
from station.values import Floats

REFERENCE_HEIGHT_M = 1.75

# Each row: place along the bone (0 proximal, 1 distal joint), half width in front, half width
# behind, metres.
_THIGH = np.array(
    [
        (-0.16, 0.040, 0.050),
        (-0.08, 0.072, 0.085),
        (0.05, 0.084, 0.096),
        (0.25, 0.084, 0.088),
        (0.45, 0.078, 0.076),
        (0.65, 0.067, 0.065),
        (0.82, 0.056, 0.057),
        (0.94, 0.051, 0.056),
        (1.02, 0.047, 0.053),
        (1.08, 0.033, 0.039),
        (1.11, 0.012, 0.018),
    ]
)
_SHANK = np.array(
    [
        (-0.10, 0.014, 0.022),
        (-0.06, 0.036, 0.040),
        (0.00, 0.046, 0.054),
        (0.08, 0.046, 0.060),
        (0.18, 0.042, 0.067),
        (0.30, 0.039, 0.070),
        (0.42, 0.039, 0.062),
        (0.56, 0.038, 0.048),
        (0.72, 0.035, 0.035),
        (0.86, 0.0335, 0.0295),
        (0.96, 0.0355, 0.0305),
        (1.04, 0.0365, 0.0325),
    ]
)
_SOCK = np.array(
    [
        (0.80, 0.0365, 0.0355),
        (0.86, 0.0365, 0.0330),
        (0.94, 0.0370, 0.0325),
        (1.00, 0.0385, 0.0345),
        (1.08, 0.0395, 0.0355),
    ]
)
_SHORTS_LEG = np.array(
    [
        (-0.20, 0.050, 0.060),
        (-0.10, 0.088, 0.100),
        (0.05, 0.098, 0.110),
        (0.25, 0.098, 0.103),
        (0.45, 0.096, 0.096),
        (0.60, 0.094, 0.093),
        (0.62, 0.090, 0.089),
    ]
)
_UPPER_ARM = np.array(
    [
        (-0.12, 0.022, 0.022),
        (-0.05, 0.044, 0.044),
        (0.10, 0.050, 0.050),
        (0.40, 0.046, 0.046),
        (0.75, 0.039, 0.040),
        (0.95, 0.037, 0.037),
        (1.06, 0.030, 0.030),
        (1.11, 0.014, 0.014),
    ]
)
_SLEEVE = np.array(
    [
        (-0.20, 0.026, 0.026),
        (-0.10, 0.056, 0.056),
        (0.10, 0.062, 0.062),
        (0.35, 0.060, 0.060),
        (0.52, 0.058, 0.058),
    ]
)
_FOREARM = np.array(
    [
        (-0.10, 0.014, 0.014),
        (-0.05, 0.030, 0.030),
        (0.10, 0.039, 0.039),
        (0.30, 0.040, 0.038),
        (0.60, 0.032, 0.030),
        (0.90, 0.024, 0.024),
        (1.00, 0.025, 0.025),
    ]
)
_HAND = np.array(
    [
        (0.98, 0.024, 0.024),
        (1.08, 0.034, 0.034),
        (1.22, 0.042, 0.038),
        (1.34, 0.036, 0.036),
        (1.40, 0.020, 0.024),
    ]
)
# The trunk runs from mid-shoulder down to mid-hip.
_TRUNK = np.array(
    [
        (-0.12, 0.036, 0.046),
        (-0.06, 0.066, 0.082),
        (0.05, 0.102, 0.106),
        (0.20, 0.124, 0.108),
        (0.40, 0.118, 0.098),
        (0.60, 0.104, 0.090),
        (0.80, 0.100, 0.094),
        (0.96, 0.100, 0.104),
        (1.04, 0.098, 0.106),
    ]
)
# From mid-shoulder up to the head's centre: upwards, so "front" comes out behind.
_NECK_UP = np.array(
    [(-0.20, 0.060, 0.064), (0.20, 0.055, 0.056), (0.60, 0.052, 0.050), (1.00, 0.050, 0.050)]
)

# Bands across a limb: from, to (0 the rear edge, 1 the front edge), brightness.
_BANDS = ((0.0, 1.0, 0.74), (0.07, 0.95, 0.88), (0.20, 0.88, 1.0), (0.42, 0.74, 1.07))
_FLAT_BANDS = ((0.0, 1.0, 0.80), (0.12, 0.92, 1.0))


def banded(profile: Floats, bands: tuple[tuple[float, float, float], ...]) -> Shape:
    """Build a shaded limb: first axis along the bone, second towards its front.

    Args:
        profile: (n, 3) place along the bone, half widths in front and behind, metres.
        bands: From and to across the limb, brightness; in painting order.
    """
    place, front, rear = profile.T

    def across(share: float) -> Floats:
        return np.stack([place, (front + rear) * share - rear], axis=1)

    return Shape(
        [(np.concatenate([across(high), across(low)[::-1]]), tint) for low, high, tint in bands]
    )


THIGH = banded(_THIGH, _BANDS)
SHANK = banded(_SHANK, _BANDS)
SOCK = banded(_SOCK, _FLAT_BANDS)
SHORTS_LEG = banded(_SHORTS_LEG, _BANDS)
UPPER_ARM = banded(_UPPER_ARM, _BANDS)
SLEEVE = banded(_SLEEVE, _BANDS)
FOREARM = banded(_FOREARM, _BANDS)
HAND = banded(_HAND, _FLAT_BANDS)
TRUNK = banded(_TRUNK, _BANDS)
NECK_UP = banded(_NECK_UP, _FLAT_BANDS)


def _disc(front: float, radius: float) -> Floats:
    turn = np.linspace(0.0, 2.0 * math.pi, 20, endpoint=False)
    return np.stack([radius * np.cos(turn), front + radius * np.sin(turn)], axis=1)


KNEE = Shape([(_disc(-0.004, 0.047), 0.98), (_disc(0.008, 0.027), 1.08)])
"""First axis down the leg, second to its front, metres."""


def paint_limb(
    brush: Brush, start: Floats, end: Floats, shape: Shape, colour: Colour, scale: float
) -> None:
    """Paint one shaded limb from joint to joint.

    Args:
        brush: What to paint with.
        start: (2,) proximal joint, bay frame, metres.
        end: (2,) distal joint.
        shape: One of this module's limbs.
        colour: The limb's own colour.
        scale: Runner's height over `REFERENCE_HEIGHT_M`; widths grow with it.
    """
    bone = end - start
    ahead, up = float(bone[0]), float(bone[1])
    unit = scale / (math.hypot(ahead, up) or 1e-6)
    # The front of a limb that hangs down is ahead.
    brush.shape(shape, start, np.array([(ahead, up), (-up * unit, ahead * unit)]), colour)
