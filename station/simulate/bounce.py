"""The hip's height through one stance: a body that the belt pushes up only while it is stood on.

At the first touch and as the toe leaves nothing pushes: the hip falls and rises there just as it
does in flight, with gravity alone. In between the push is a half sine (as in the spring-mass runner
of Morin et al. 2005, J Appl Biomech 21:167), skewed and flattened by the next two sines so that the
hip sinks and leaves as wished. On the real trial the hip goes on gaining speed downwards for 40 ms
after contact, and is fastest upwards 50 ms before toe-off.
"""

from __future__ import annotations

import math

import numpy as np

from station.simulate.curve import Curve

G_MPS2 = 9.81
_LOWEST_AT = 0.44
"""Share of the stance after which the hip is lowest."""
_KNOTS = 15


def hip_path(
    t_contact_s: float,
    contact_s: float,
    height_m: float,
    dip_m: float,
    left_at_m: float,
    sink_mps: float,
    up_mps: float,
) -> Curve:
    """Return the hip's height over a stance.

    Args:
        t_contact_s: When it begins.
        contact_s: How long it lasts.
        height_m: At contact.
        dip_m: How far it has sunk at `_LOWEST_AT` of the stance.
        left_at_m: At toe-off.
        sink_mps: Its speed down at contact.
        up_mps: Its speed up at toe-off.
    """
    sines = np.array([1.0, 2.0, 3.0]) * math.pi / contact_s

    def pushed_m(since_s: float) -> np.ndarray:
        """Return how far a push of 1 m/s^2 of each sine has lifted the hip."""
        return (since_s - np.sin(sines * since_s) / sines) / sines

    def pushed_mps(since_s: float) -> np.ndarray:
        return (1.0 - np.cos(sines * since_s)) / sines

    def falls_m(since_s: float) -> float:
        return height_m - sink_mps * since_s - 0.5 * G_MPS2 * since_s**2

    low_s = _LOWEST_AT * contact_s
    matrix = np.stack([pushed_mps(contact_s), pushed_m(contact_s), pushed_m(low_s)])
    wanted = [
        up_mps + sink_mps + G_MPS2 * contact_s,
        left_at_m - falls_m(contact_s),
        height_m - dip_m - falls_m(low_s),
    ]
    push = np.linalg.solve(matrix, wanted)
    since = [contact_s * (i / (_KNOTS - 1)) for i in range(_KNOTS)]  # ends at contact_s exactly
    return Curve(
        [t_contact_s + s for s in since],
        [falls_m(s) + float(push @ pushed_m(s)) for s in since],
        [-sink_mps - G_MPS2 * s + float(push @ pushed_mps(s)) for s in since],
    )
