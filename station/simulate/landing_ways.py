"""What a runner of bare landings is told: the way of landing, and how well it is seen."""

from __future__ import annotations

import math
from dataclasses import dataclass

from station.values import Side, Strike

RUNS_FROM_MPS = 1.5
"""On a slower belt nobody runs here; one who hops does. This project's own choice."""


@dataclass(frozen=True, slots=True)
class LandingWay:
    """How a runner lands when left alone. Angles in degrees, signs as in the design.

    The sizes beside rate and angle are this project's own choice, unless a source is named.

    Raises:
        ValueError: A rate, spread or share that cannot be.
    """

    shank_deg: float = 6.0
    """Mean shank angle at contact at `belt_mps` and the own rate."""
    right_more_deg: float = 0.0
    """How much more the right leg reaches; the left as much less."""
    spread_deg: float = 1.0
    """Standard deviation from landing to landing (a real trial on a force plate showed 1)."""
    rate_spm: float = 165.0
    """Own step rate at `belt_mps`."""
    belt_mps: float = 2.7
    rate_per_mps: float = 8.0
    """Steps per minute more for each m/s of belt speed."""
    shank_per_mps: float = 1.0
    """Degrees more for each m/s (a real forefoot striker: 5 to 15 mm at the ankle)."""
    shank_per_rate_percent: float = 0.0
    """Degrees more for each percent of step rate beyond the own one; negative: less reach."""
    step_time_share: float = 0.012
    """Standard deviation of a step's time."""
    contact_share: float = 0.68
    """Contact time as a share of the step's time."""
    strike: Strike = "forefoot"
    foot_deg: float = -6.0
    dives: float = 0.0
    """Share of landings on a steeply pointed toe, with a heel that never comes down."""
    heel_down_s: float | None = 0.06
    tires_from_s: float = math.inf
    tired_deg_per_minute: float = 2.0
    """Reach that is added from then on."""
    away: tuple[tuple[float, float], ...] = ()
    """From when to when nobody is on the belt, seconds."""
    hop_spm: float = 150.0
    hop_mistakes: float = 0.0
    """Share of a foot's turns in which one hop too many or too few is made."""
    felt_more: float = 0.0
    """How much larger than the truth the felt share of good landings is; negative: smaller."""
    seed: int = 1

    def __post_init__(self) -> None:
        """Refuse what nobody can do."""
        for name, low, high in (
            ("rate_spm", 100.0, 230.0),
            ("hop_spm", 100.0, 230.0),
            ("spread_deg", 0.0, 10.0),
            ("step_time_share", 0.0, 0.1),
            ("contact_share", 0.2, 0.95),
            ("dives", 0.0, 1.0),
            ("hop_mistakes", 0.0, 1.0),
            ("felt_more", -1.0, 1.0),
        ):
            value = getattr(self, name)
            if not low <= value <= high:
                raise ValueError(f"{name} is {value}; allowed: {low:g} to {high:g}")

    def own_spm(self, belt_mps: float) -> float:
        """Return the step rate at a belt speed, unasked."""
        spm = self.rate_spm + self.rate_per_mps * (belt_mps - self.belt_mps)
        return min(max(spm, 100.0), 230.0)

    def own_shank_deg(self, side: Side, belt_mps: float, t_s: float) -> float:
        """Return a leg's mean shank angle at a time and belt speed, at the own rate, unasked."""
        more = 0.5 * self.right_more_deg * (1.0 if side == "right" else -1.0)
        tired = self.tired_deg_per_minute * max(0.0, t_s - self.tires_from_s) / 60.0
        return self.shank_deg + more + tired + self.shank_per_mps * (belt_mps - self.belt_mps)

    def is_away(self, t_s: float) -> bool:
        """Return whether nobody is on the belt."""
        return any(a <= t_s < b for a, b in self.away)


@dataclass(frozen=True, slots=True)
class Eyesight:
    """How well landings are seen: the measurement's error at 60 frames a second.

    The standard deviations are what the measurement was found to have on a force-plate trial and
    simulated runners, with 10 mm of noise on every point, rounded up: 1.3 to 1.5 deg on the near
    leg, up to 2 deg on the far one, 4 ms of contact time.
    """

    near: Side = "right"
    near_sd_deg: float = 1.5
    far_sd_deg: float = 2.0
    stated_share: float = 1.0
    """What the measurement states as its error, as a share of what it is."""
    stated_spread: float = 0.12
    """Standard deviation of that share from landing to landing."""
    contact_sd_s: float = 0.004
    toe_off_sd_s: float = 0.007
    verdict_s: float = 0.05
    """From contact to the newest frame that the verdict used."""
    unjudged: float = 0.005
    """Share of landings whose angle cannot be told."""

    def sd_deg(self, side: Side) -> float:
        """Return the standard deviation of a leg's angle error."""
        return self.near_sd_deg if side == self.near else self.far_sd_deg
