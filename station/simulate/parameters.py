"""What a simulated runner is told: body size and the way of running."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from station.values import Side, other

Kind = Literal["run", "hop"]
BELT_MPS_RANGE: dict[Kind, tuple[float, float]] = {"run": (2.0, 5.5), "hop": (0.8, 2.2)}
"""Belt speeds that the gait can run (hop) at."""


@dataclass(frozen=True, slots=True)
class Body:
    """Sizes that follow from the standing height.

    Segment fractions: Winter, Biomechanics and Motor Control of Human Movement, 2009, Fig. 4.1
    (after Drillis and Contini). The shoe's shape is this project's own choice.
    """

    height_m: float = 1.75

    @property
    def thigh_m(self) -> float:
        """Hip to knee."""
        return 0.245 * self.height_m

    @property
    def shank_m(self) -> float:
        """Knee to ankle."""
        return 0.246 * self.height_m

    @property
    def upper_arm_m(self) -> float:
        """Shoulder to elbow."""
        return 0.186 * self.height_m

    @property
    def forearm_m(self) -> float:
        """Elbow to wrist."""
        return 0.146 * self.height_m

    @property
    def trunk_m(self) -> float:
        """Hip to shoulder (shoulder 0.818, hip 0.530 of the height)."""
        return 0.288 * self.height_m


@dataclass(frozen=True, slots=True)
class GaitParameters:
    """One way of running on a treadmill. Angles in degrees, signs as in the design.

    Raises:
        ValueError: A value outside what the gait can run; the text names what is allowed.
    """

    belt_mps: float = 2.7
    """Belt speed: 2 to 5.5 running, 0.8 to 2.2 hopping."""
    incline_percent: float = 0.0
    """0 to 15; the belt rises ahead."""
    rate_spm: float = 165.0
    """Steps (hops) per minute: 100 to 220."""
    shank_deg: float = 6.0
    """At contact, to the vertical, positive when the ankle is ahead of the knee: -8 to 18."""
    foot_deg: float = 6.0
    """At contact, to the belt, positive toes up: -10 (forefoot) to 20 (heel)."""
    contact_s: float | None = None
    """Contact time; None: from speed and rate. Shortened where the leg cannot reach so far."""
    knee_flexion_deg: float | None = None
    """At contact; None: from speed and shank angle."""
    trunk_lean_deg: float = 7.0
    """Forward (Teng & Powers 2014: self-chosen 7.3 +/- 3.6)."""
    oscillation_m: float | None = None
    """Vertical travel of the hip; None: from contact and flight time as a spring-mass."""
    height_m: float = 1.75
    """Standing height: 1.40 to 2.10."""
    wander_m: float = 0.03
    """Slow drift along the belt, plus or minus."""
    variability: float = 1.0
    """Step-to-step spread as a multiple of a usual runner's; 0: every step the same."""
    kind: Kind = "run"
    hops: tuple[int, int] = (1, 0)
    """Hopping: how many on the left, then on the right, and again: (1, 0) left only, (2, 2)."""
    first_side: Side = "left"
    seed: int = 1

    def __post_init__(self) -> None:
        """Refuse what the gait cannot run."""
        speeds = BELT_MPS_RANGE[self.kind]
        for name, low, high in (
            ("belt_mps", *speeds),
            ("incline_percent", 0.0, 15.0),
            ("rate_spm", 100.0, 220.0),
            ("shank_deg", -8.0, 18.0),
            ("foot_deg", -10.0, 20.0),
            ("trunk_lean_deg", -10.0, 30.0),
            ("height_m", 1.40, 2.10),
            ("wander_m", 0.0, 0.2),
            ("variability", 0.0, 3.0),
        ):
            value = getattr(self, name)
            if not low <= value <= high:
                raise ValueError(
                    f"{name} is {value}; a simulated {self.kind} allows {low:g} to {high:g}"
                )
        if self.contact_s is not None and not 0.08 <= self.contact_s <= 0.45:
            raise ValueError(f"contact_s is {self.contact_s}; allowed: 0.08 to 0.45")
        if self.knee_flexion_deg is not None and not 8.0 <= self.knee_flexion_deg <= 40.0:
            raise ValueError(f"knee_flexion_deg is {self.knee_flexion_deg}; allowed: 8 to 40")
        if self.oscillation_m is not None and not 0.02 <= self.oscillation_m <= 0.14:
            raise ValueError(f"oscillation_m is {self.oscillation_m}; allowed: 0.02 to 0.14")
        if min(self.hops) < 0 or sum(self.hops) < 1:
            raise ValueError(f"hops is {self.hops}; allowed: counts left and right, not both 0")

    @property
    def belt_rise_deg(self) -> float:
        """The belt's slope in degrees, uphill ahead."""
        return math.degrees(math.atan(self.incline_percent / 100.0))

    def side_of(self, number: int) -> Side:
        """Return which foot makes contact `number` (from 1)."""
        if self.kind == "run":
            return self.first_side if number % 2 else other(self.first_side)
        left, right = self.hops
        return "left" if (number - 1) % (left + right) < left else "right"


@dataclass(frozen=True, slots=True)
class StepWish:
    """What is decided for one coming step, all at one moment."""

    step_time_s: float
    """From the contact before to this one."""
    shank_deg: float
    foot_deg: float


@dataclass(frozen=True, slots=True)
class Spread:
    """Standard deviations of a usual runner from step to step (at `variability` 1).

    The real trial that the tests read shows about 1 deg of shank angle and 6 ms of step time; the
    foot angle's is this project's own choice.
    """

    step_time_share: float = 0.012
    shank_deg: float = 1.0
    foot_deg: float = 1.2
    dip_share: float = 0.03
