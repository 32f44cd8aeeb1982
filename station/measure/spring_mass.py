"""The runner as a mass on a spring: what contact and flight time alone say of the up-down travel.

Morin, Dalleau, Kyrolainen, Jeannin & Belli 2005, J Appl Biomech 21:167-180, where the force over
one contact is taken as half a sine; peaks agreed with a force plate within 7 percent. The
equations are from memory; a test integrates the half sine and finds them, signs included. Used as
a plausibility check: it needs no picture, so it is independent of what the landmarks show.
"""

from __future__ import annotations

import math

G_MPS2 = 9.81
"""As in the paper."""


def peak_force_bw(contact_s: float, flight_s: float) -> float:
    """Return the peak vertical force, in body weights.

    Args:
        contact_s: Contact time, over 0.
        flight_s: Flight time, 0 or more.
    """
    return 0.5 * math.pi * (flight_s / contact_s + 1.0)


def drop_m(contact_s: float, flight_s: float) -> float:
    """Return how far the centre of mass sinks from touch to mid-stance, metres.

    Args:
        contact_s: Contact time, over 0.
        flight_s: Flight time, 0 or more.
    """
    by_force = peak_force_bw(contact_s, flight_s) * G_MPS2 * (contact_s / math.pi) ** 2
    return by_force - G_MPS2 * contact_s**2 / 8.0


def travel_m(contact_s: float, flight_s: float) -> float:
    """Return the whole up-down travel of the centre of mass in one step, metres.

    Args:
        contact_s: Contact time, over 0.
        flight_s: Flight time, 0 or more.
    """
    return drop_m(contact_s, flight_s) + G_MPS2 * flight_s**2 / 8.0


def leg_compression_m(contact_s: float, flight_s: float, speed_mps: float, leg_m: float) -> float:
    """Return by how much the leg is shorter at mid-stance than at the touch, metres.

    Args:
        contact_s: Contact time, over 0.
        flight_s: Flight time, 0 or more.
        speed_mps: Belt speed.
        leg_m: Hip to ground when standing; over half the belt's way in one contact.

    Raises:
        ValueError: The leg is too short to reach over so long a contact.
    """
    half_way_m = 0.5 * speed_mps * contact_s
    if half_way_m >= leg_m:
        raise ValueError(
            f"a leg of {leg_m:g} m cannot stay on a belt that runs {2.0 * half_way_m:g} m "
            "in one contact"
        )
    return leg_m - math.sqrt(leg_m**2 - half_way_m**2) + drop_m(contact_s, flight_s)
