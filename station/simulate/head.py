"""The simulated runner's head: a face in profile, which the pose model needs to find a person."""

from __future__ import annotations

import numpy as np

from station.simulate.brush import Brush, Colour, Shape
from station.values import Floats

# Metres ahead of and above the head's centre (the ear), for a runner 1.75 m tall whose nose's tip
# is `_NOSE_M` ahead of the centre.
_NOSE_M = 0.108
_FACE = np.array(
    [
        (-0.020, 0.118), (0.030, 0.118), (0.064, 0.098), (0.080, 0.068), (0.086, 0.040),
        (0.082, 0.024), (0.092, 0.010), (0.108, -0.014), (0.104, -0.022), (0.086, -0.027),
        (0.090, -0.042), (0.086, -0.050), (0.089, -0.060), (0.080, -0.072), (0.082, -0.090),
        (0.068, -0.106), (0.044, -0.104), (0.014, -0.082), (-0.020, -0.060), (-0.060, -0.050),
        (-0.088, 0.010), (-0.080, 0.070), (-0.056, 0.104),
    ]
)  # fmt: skip
_FACE_LIT = np.array(
    [
        (0.030, 0.100), (0.062, 0.082), (0.074, 0.040), (0.074, 0.022), (0.084, 0.004),
        (0.096, -0.014), (0.078, -0.024), (0.076, -0.068), (0.070, -0.094), (0.046, -0.092),
        (0.020, -0.066), (0.012, 0.020),
    ]
)  # fmt: skip
_HAIR = np.array(
    [
        (0.072, 0.088), (0.060, 0.112), (0.024, 0.128), (-0.028, 0.128), (-0.070, 0.108),
        (-0.094, 0.066), (-0.100, 0.014), (-0.088, -0.030), (-0.064, -0.056), (-0.044, -0.050),
        (-0.030, -0.016), (-0.024, 0.024), (0.008, 0.030), (0.014, -0.004), (0.024, 0.034),
        (0.040, 0.066), (0.060, 0.078),
    ]
)  # fmt: skip
_EYE = np.array([(0.056, 0.020), (0.066, 0.026), (0.075, 0.021), (0.073, 0.013), (0.062, 0.013)])
_IRIS = np.array([(0.066, 0.024), (0.073, 0.023), (0.073, 0.014), (0.067, 0.014)])
_BROW = np.array([(0.048, 0.038), (0.064, 0.046), (0.080, 0.041), (0.064, 0.040)])
_MOUTH = np.array([(0.088, -0.052), (0.076, -0.053), (0.062, -0.057), (0.074, -0.058)])
_NOSTRIL = np.array([(0.090, -0.018), (0.097, -0.020), (0.090, -0.024), (0.084, -0.022)])
_EAR = np.array(
    [
        (-0.014, 0.026), (0.004, 0.030), (0.014, 0.018), (0.010, -0.008), (0.000, -0.030),
        (-0.010, -0.024),
    ]
)  # fmt: skip
_JAW = np.array(
    [(0.014, -0.082), (0.044, -0.104), (0.068, -0.106), (0.040, -0.094), (0.012, -0.070)]
)

_WHITE: Colour = (235, 238, 240)
_LIPS: Colour = (88, 84, 150)
_SKIN_SHAPE = Shape([(_FACE, 0.86), (_FACE_LIT, 1.0), (_JAW, 0.72), (_NOSTRIL, 0.55)])
_HAIR_SHAPE = Shape([(_HAIR, 1.0), (_HAIR * 0.72 + np.array([0.0, 0.03]), 1.25)])
_EAR_SHAPE = Shape([(_EAR, 0.95), (_EAR * 0.5, 0.7)])
_EYE_SHAPE = Shape([(_EYE, 1.0), (_IRIS, 0.18)])
_BROW_SHAPE = Shape([(_BROW, 1.0)])
_MOUTH_SHAPE = Shape([(_MOUTH, 1.0)])


def paint_head(
    brush: Brush, head: Floats, nose: Floats, skin: Colour, hair: Colour, scale: float
) -> None:
    """Paint the head in profile.

    Args:
        brush: What to paint with.
        head: (2,) its centre (the ear), bay frame, metres.
        nose: (2,) tip of the nose; gives the head's direction.
        skin: Colour of the skin.
        hair: Colour of the hair.
        scale: Runner's height over the reference height.
    """
    # The tip in _FACE lies a little below the ear's level: take the tilt against that.
    tip = nose - head
    tilt = np.arctan2(tip[1], tip[0]) - np.arctan2(-0.014, _NOSE_M)
    ahead = np.array([np.cos(tilt), np.sin(tilt)])
    axes = np.stack([ahead, np.array([-ahead[1], ahead[0]])]) * scale
    moved = head + tip - np.array([_NOSE_M, -0.014]) @ axes

    for shape, colour in ((_SKIN_SHAPE, skin), (_HAIR_SHAPE, hair), (_EAR_SHAPE, skin)):
        brush.shape(shape, moved, axes, colour)
    brush.shape(_EYE_SHAPE, moved, axes, _WHITE)
    brush.shape(_BROW_SHAPE, moved, axes, hair)
    brush.shape(_MOUTH_SHAPE, moved, axes, _LIPS)
