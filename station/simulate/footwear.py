"""The picture of the simulated runner's shoe: upper, midsole and outsole, bent at the ball."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from station.simulate.brush import Brush, Colour, tinted
from station.simulate.figure import Leg
from station.values import Floats


@dataclass(frozen=True, slots=True)
class ShoeColours:
    """Colours of one shoe."""

    upper: Colour
    stripe: Colour
    midsole: Colour
    outsole: Colour


# Rear part: metres ahead of the sole's rear end along the ground line, metres above it.
_HEEL_BACK = (
    (0.002, 0.000), (-0.018, 0.010), (-0.026, 0.026), (-0.022, 0.046), (-0.012, 0.066),
)  # fmt: skip
_COLLAR = ((0.006, 0.076), (0.045, 0.068), (0.086, 0.082), (0.100, 0.088))
_INSTEP = ((0.120, 0.078), (0.142, 0.064))
_INNER = (
    (-0.010, 0.022), (-0.008, 0.056), (0.045, 0.054), (0.092, 0.072), (0.116, 0.070),
    (0.140, 0.056),
)  # fmt: skip
_STRIPE = ((0.056, 0.028), (0.078, 0.028), (0.124, 0.062), (0.110, 0.070))
_MIDSOLE = ((0.002, 0.000), (-0.020, 0.010), (-0.027, 0.026), (0.010, 0.027))
# Front part: metres back from the sole's front end along its ground line, metres above it.
_VAMP = (
    (0.056, 0.052), (0.026, 0.044), (0.000, 0.034), (-0.018, 0.022), (-0.019, 0.012),
    (0.002, 0.002),
)  # fmt: skip
_INNER_VAMP = ((0.026, 0.034), (-0.004, 0.024))
_MIDSOLE_TIP = ((0.024, 0.022), (-0.016, 0.021), (-0.019, 0.013), (0.002, 0.0))
_REAR_POINTS = np.array(_HEEL_BACK + _COLLAR + _INSTEP + _INNER + _STRIPE + _MIDSOLE)
_FORE_POINTS = np.array(_VAMP + _INNER_VAMP + _MIDSOLE_TIP)
_REAR_CUTS = np.cumsum([len(_HEEL_BACK + _COLLAR + _INSTEP), len(_INNER), len(_STRIPE)])
_FORE_CUTS = np.cumsum([len(_VAMP), len(_INNER_VAMP)])
_OUTSOLE_M = 0.006
_MIDSOLE_M = 0.024


def _frame(start: Floats, end: Floats) -> Floats:
    along = end - start
    along = along / (float(np.hypot(along[0], along[1])) or 1e-6)
    return np.array([along, [-along[1], along[0]]])


def paint_shoe(brush: Brush, leg: Leg, colours: ShoeColours, scale: float) -> None:
    """Paint one shoe on its ground line.

    Args:
        brush: What to paint with.
        leg: Whose shoe; `sole_heel`, `sole_ball` and `sole_toe` carry it.
        colours: Its colours.
        scale: Runner's height over the reference height.
    """
    rear_axes = _frame(leg.sole_heel, leg.sole_ball)
    fore_axes = _frame(leg.sole_ball, leg.sole_toe)
    rear = np.split(leg.sole_heel + scale * (_REAR_POINTS @ rear_axes), _REAR_CUTS)
    fore = np.split(leg.sole_toe + scale * ((_FORE_POINTS * (-1.0, 1.0)) @ fore_axes), _FORE_CUTS)
    upper, inner, stripe, midsole = rear
    vamp, inner_vamp, midsole_tip = fore
    ball, up, over = leg.sole_ball[None, :], scale * rear_axes[1], scale * fore_axes[1]
    brush.polygon(np.concatenate([upper, vamp, ball]), tinted(colours.upper, 0.8))
    brush.polygon(np.concatenate([inner, inner_vamp]), colours.upper)
    brush.polygon(stripe, colours.stripe)
    middle = ball + _MIDSOLE_M * (up + over) / 2.0
    brush.polygon(np.concatenate([midsole, middle, midsole_tip, ball]), colours.midsole)
    thick_up, thick_over = _OUTSOLE_M * up, _OUTSOLE_M * over
    brush.polygon(
        np.stack(
            [leg.sole_heel, leg.sole_heel + thick_up, leg.sole_ball + thick_up,
             leg.sole_toe + thick_over, leg.sole_toe, leg.sole_ball]
        ),
        colours.outsole,
    )  # fmt: skip
