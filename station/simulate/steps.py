"""What is decided and what is known of one step of the simulated runner."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from station.simulate.bounce import G_MPS2
from station.simulate.parameters import GaitParameters, Kind, Spread, StepWish
from station.simulate.stance import Touch
from station.values import Floats, Heard, Side, TrueStep

STIFFER = 0.8
"""Share of the spring-mass's travel that the hip makes here; the rest is the ankle's and shoe's."""


class Adapts(Protocol):
    """Decides how the runner answers what is heard (see `listening`)."""

    def hear(self, event: Heard) -> None:
        """Take a beat or cue."""
        ...

    def next_step(
        self, number: int, side: Side, t_decide_s: float, t_before_s: float, natural: StepWish
    ) -> StepWish:
        """Return what the runner does of contact `number`.

        Args:
            number: Counts the contacts from 1.
            side: The foot.
            t_decide_s: When it is decided: nothing that sounds later may matter.
            t_before_s: The contact before it, already decided.
            natural: What the runner would do unasked.
        """
        ...


def natural_wish(parameters: GaitParameters, spread: Spread, number: int) -> StepWish:
    """Return what the runner does unasked at contact `number`, with its own spread."""
    p = parameters
    rng = np.random.default_rng([p.seed, 1, number + 8])
    noise = np.clip(rng.standard_normal(3), -2.5, 2.5) * p.variability
    return StepWish(
        60.0 / p.rate_spm * (1.0 + spread.step_time_share * float(noise[0])),
        p.shank_deg + spread.shank_deg * float(noise[1]),
        min(max(p.foot_deg + spread.foot_deg * float(noise[2]), -12.0), 24.0),
    )


LEAST_BEND_DEG = 11.0
"""No runner lands with a straighter knee."""
BEND_BY_REACH = 0.4
"""More bend, degrees, per m/s over 2.7 and degree of shank angle over 4 (this project's choice)."""


@dataclass(frozen=True, slots=True)
class StepDetail:
    """All that is known of one true step; bay frame, metres, degrees."""

    number: int
    step: TrueStep
    foot_deg: float
    """To the belt, toes up positive."""
    shank_loading_deg: float
    """20 ms after contact."""
    knee_flexion_deg: float
    knee: Floats
    ankle: Floats
    heel: Floats
    """Landmark at the back of the shoe."""
    toe: Floats
    hip: Floats
    belt_mps: float


def touch_of(
    p: GaitParameters,
    spread: Spread,
    number: int,
    side: Side,
    kind: Kind,
    t_contact_s: float,
    wish: StepWish,
    speed: float,
) -> Touch:
    """Fill in what a wish leaves open: contact time, knee bend, and how far the hip sinks.

    Args:
        p: The way of running.
        spread: A usual runner's spread.
        number: Of the contact.
        side: The foot.
        kind: In what kind of gait it comes down.
        t_contact_s: When it comes down.
        wish: What was decided.
        speed: Belt speed then, m/s.
    """
    step_s = wish.step_time_s
    contact_s = p.contact_s
    if contact_s is None:
        # Duty by speed: 39/35/33 % of the cycle at 2.5/3.5/4.5 m/s (open running data set),
        # lowered to this project's single measured trial (36 % at 2.5 m/s).
        duty = min(max(0.362 - 0.016 * (speed - 2.5), 0.25), 0.40)
        contact_s = min(duty * 2.0 * step_s if kind == "run" else 0.62 * step_s, 0.30)
    contact_s = min(contact_s, step_s - 0.035)
    flight_s = step_s - contact_s
    flexion_deg = p.knee_flexion_deg
    if flexion_deg is None:
        flexion_deg = 13.5 + 1.2 * (speed - 2.5) - 0.45 * (wish.shank_deg - 6.0)
    # A fast belt takes a far-reaching foot back at once: a nearly straight knee could follow only
    # by folding at over 1000 deg/s (300 to 350 on the real trial). Such a runner lands more bent.
    reaching = max(speed - 2.7, 0.0) * max(wish.shank_deg - 4.0, 0.0)
    rng = np.random.default_rng([p.seed, 2, number + 8])
    uneven = 1.0 + p.variability * spread.dip_share * float(rng.standard_normal())
    return Touch(
        number,
        side,
        t_contact_s,
        contact_s,
        flight_s,
        math.radians(wish.shank_deg),
        math.radians(wish.foot_deg),
        math.radians(max(flexion_deg, LEAST_BEND_DEG + BEND_BY_REACH * reaching)),
        dip_m(contact_s, flight_s, p.oscillation_m) * uneven,
    )


def dip_m(contact_s: float, flight_s: float, oscillation_m: float | None) -> float:
    """Return how far the hip sinks in stance below its height at contact, metres.

    Args:
        contact_s: Contact time.
        flight_s: Flight time.
        oscillation_m: Wished vertical travel; None: that of a spring-mass with a half-sine force
            (Morin et al. 2005, J Appl Biomech 21:167: Fmax tc^2/(m pi^2) - g tc^2/8).
    """
    if oscillation_m is not None:
        return max(oscillation_m - G_MPS2 * flight_s**2 / 8.0, 0.015)
    push = G_MPS2 * 0.5 * math.pi * (flight_s / contact_s + 1.0)
    return STIFFER * (push * contact_s**2 / math.pi**2 - G_MPS2 * contact_s**2 / 8.0)
