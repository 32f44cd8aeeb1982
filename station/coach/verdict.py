"""The landing verdict: within the runner's own limit, or ahead of it.

The limit belongs to the runner: what the drill fixes, else the baseline at this belt speed (median
and spread, per leg) with the change that the coach asks for, else a fallback.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from statistics import median
from typing import Literal

import numpy as np

from station.coach.plan import Drill
from station.values import Belt, Landing, Side, Verdict

FALLBACK_LIMIT_DEG = 8.0
"""The design's fallback. Common practice, no source: most runners' shank is 6 to 11 deg ahead."""


@dataclass(frozen=True, slots=True)
class VerdictRule:
    """How sure a landing must be before it is judged, and before it is called ahead."""

    error_factor: float = 1.0
    """By how many of its own standard errors a landing must exceed the limit."""
    least_confidence: float = 0.5
    """No verdict below it, 0 to 1."""
    unknown_error_deg: float = 2.0
    """Stands in where a landing carries no error of its own. Single-step values are good to about
    2 deg at best (smallest detectable change of the shank angle 2 to 5 deg: common practice, no
    source)."""


DEFAULT_RULE = VerdictRule()


def judge(landing: Landing, limit_deg: float, rule: VerdictRule = DEFAULT_RULE) -> Verdict | None:
    """Judge one landing against the runner's limit.

    Args:
        landing: The landing; its shank angle is to gravity at initial contact, positive when the
            ankle is ahead of the knee.
        limit_deg: The limit of this leg, degrees.
        rule: What is asked of a landing before it is judged.

    Returns:
        `ahead` when the shank angle exceeds the limit by more than `error_factor` of its own
        standard errors, `within` when not; None where the shank angle is not known or the landing
        is not trusted enough.
    """
    shank_deg = landing.shank_deg
    if shank_deg is None or not math.isfinite(shank_deg):
        return None
    if not landing.confidence >= rule.least_confidence:  # a NaN confidence is no confidence
        return None
    return "ahead" if shank_deg > border_deg(landing, limit_deg, rule) else "within"


def border_deg(landing: Landing, limit_deg: float, rule: VerdictRule = DEFAULT_RULE) -> float:
    """Return the shank angle beyond which this landing is ahead, degrees.

    It is what a mark of the landing is to be held against, so that mark and word agree.

    Args:
        landing: Its own standard error counts.
        limit_deg: The limit of this leg, degrees.
        rule: By how many standard errors the limit must be exceeded.
    """
    error_deg = landing.shank_error_deg
    if error_deg is None or not math.isfinite(error_deg):
        error_deg = rule.unknown_error_deg
    return limit_deg + rule.error_factor * error_deg


# --- the limit ----------------------------------------------------------------------------------

LimitOrigin = Literal["drill", "baseline", "fallback"]


@dataclass(frozen=True, slots=True)
class LandingLimit:
    """One leg's limit of the shank angle at contact, and where it comes from."""

    deg: float
    origin: LimitOrigin


@dataclass(frozen=True, slots=True)
class LandingLimits:
    """Both legs' limits."""

    left: LandingLimit
    right: LandingLimit

    def of(self, side: Side) -> LandingLimit:
        """Return the limit of one leg."""
        return self.left if side == "left" else self.right

    def moved(self, by_deg: float) -> LandingLimits:
        """Return the limits with `by_deg` added; positive allows more reach."""
        left, right = self.left, self.right
        return LandingLimits(
            LandingLimit(left.deg + by_deg, left.origin),
            LandingLimit(right.deg + by_deg, right.origin),
        )

    def judge(self, landing: Landing, rule: VerdictRule = DEFAULT_RULE) -> Verdict | None:
        """Judge a landing by its own leg's limit; see `judge`."""
        return judge(landing, self.of(landing.side).deg, rule)


@dataclass(frozen=True, slots=True)
class LegBaseline:
    """How one leg lands when the runner is left alone."""

    count: int
    median_deg: float
    """Median shank angle at contact, degrees."""
    spread_deg: float
    """Standard deviation of the landings themselves, degrees, as far as it can be told."""
    contact_s: float | None = None
    """Median contact time; None: not known."""


@dataclass(frozen=True, slots=True)
class Baseline:
    """The runner left alone at one belt setting."""

    belt: Belt
    step_rate_spm: float | None = None
    """Median; None: too few steps."""
    left: LegBaseline | None = None
    """None: too few landings of this leg that could be judged."""
    right: LegBaseline | None = None

    def of(self, side: Side) -> LegBaseline | None:
        """Return one leg's baseline, None where it is not known."""
        return self.left if side == "left" else self.right


@dataclass(frozen=True, slots=True)
class LimitRule:
    """How a baseline becomes a limit."""

    spread_factor: float = 1.0
    """How many spreads above the median the limit lies, before the coach's change."""
    least_spread_deg: float = 0.5
    """A spread below this is luck of a small sample."""
    most_spread_deg: float = 3.0
    """A spread beyond this is a poor baseline; it must not loosen the limit without end."""
    least_landings: int = 10
    """Per leg. Common practice, no source: 7 steps a side at least, better 10 or more."""
    fallback_deg: float = FALLBACK_LIMIT_DEG


DEFAULT_LIMIT_RULE = LimitRule()


def landing_limits(
    drill: Drill, baseline: Baseline | None, rule: LimitRule = DEFAULT_LIMIT_RULE
) -> LandingLimits:
    """Return both legs' limits in a drill.

    Args:
        drill: Its own limit goes before everything else.
        baseline: The runner's, at this drill's belt setting; None: there is none.
        rule: How a baseline becomes a limit.

    Returns:
        Per leg: the drill's limit; else median + `spread_factor` x spread + the drill's
        `landing_change_deg`; else the fallback, where this leg has no baseline.
    """
    return LandingLimits(
        _leg_limit("left", drill, baseline, rule), _leg_limit("right", drill, baseline, rule)
    )


def _leg_limit(
    side: Side, drill: Drill, baseline: Baseline | None, rule: LimitRule
) -> LandingLimit:
    if drill.landing_limit_deg is not None:
        return LandingLimit(drill.landing_limit_deg, "drill")
    leg = None if baseline is None else baseline.of(side)
    if leg is None or leg.count < rule.least_landings:
        return LandingLimit(rule.fallback_deg, "fallback")
    spread_deg = min(rule.most_spread_deg, max(rule.least_spread_deg, leg.spread_deg))
    deg = leg.median_deg + rule.spread_factor * spread_deg + drill.landing_change_deg
    return LandingLimit(deg, "baseline")


def baseline_from(
    landings: Iterable[Landing],
    belt: Belt,
    rule: VerdictRule = DEFAULT_RULE,
    limit_rule: LimitRule = DEFAULT_LIMIT_RULE,
    skip: int = 6,
) -> Baseline:
    """Make a baseline of landings that the runner made untouched at one belt setting.

    Args:
        landings: In order of time.
        belt: What the belt was set to.
        rule: Landings that could not be judged do not count.
        limit_rule: How many landings a leg's baseline takes.
        skip: How many landings to leave out at the start, while the runner settles.

    Returns:
        The baseline; a leg with too few landings has None, as has the step rate with fewer than
        `least_landings` steps. A leg's spread is that of its true landings: a landing's value is
        the best estimate of it and scatters less, and what it scatters less by is its own error
        (law of total variance: Var x = Var E[x|y] + E Var[x|y]). The first is taken robustly,
        1.4826 times the median absolute deviation, the second by the median error.
    """
    kept = list(landings)[skip:]
    rates = [r for landing in kept if (r := landing.step_rate_spm) is not None]
    legs: dict[Side, LegBaseline | None] = {}
    sides: tuple[Side, Side] = ("left", "right")
    for side in sides:
        judged = [
            landing
            for landing in kept
            if landing.side == side and judge(landing, 0.0, rule) is not None
        ]
        shanks = np.array([landing.shank_deg for landing in judged], dtype=np.float64)
        if shanks.size < limit_rule.least_landings:
            legs[side] = None
            continue
        median_deg = float(np.median(shanks))
        scatter_deg = 1.4826 * float(np.median(np.abs(shanks - median_deg)))
        errors = [e for landing in judged if (e := landing.shank_error_deg) is not None]
        errors = [e for e in errors if math.isfinite(e)]
        spread_deg = math.hypot(scatter_deg, median(errors) if errors else 0.0)
        legs[side] = LegBaseline(int(shanks.size), median_deg, spread_deg)
    rate_spm = float(np.median(rates)) if len(rates) >= limit_rule.least_landings else None
    return Baseline(belt, rate_spm, legs["left"], legs["right"])
