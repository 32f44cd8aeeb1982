"""Whether a landing may be answered: the far leg only where its error in this bay is known, small.

The pose model sees the leg behind the other one worse, and a fit's own error says only how much
its points scatter, not how far off they are together. So a landing's `shank_error_deg` alone does
not make the far leg's error known. Two things do, each measured in this bay:

- the bay profile holds it (`far_leg_error_deg`), measured when the bay was set up: the same runner
  at the same speed with the camera on either side, the medians of the same leg compared;
- the leg's limit is its own baseline, taken by this camera: what the leg is read too high or too
  low is in the limit as well and goes out of the difference. What is left is the error of the best
  estimate of one landing (`measure/leg_level.py`), and the baseline's spread, that of the landings
  themselves, is an upper bound of it: an estimate drawn towards the level is off by no more. One
  thing does not go out: the model shrinks the far leg's movement, so part of a change asked for is
  not seen.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from station.coach.verdict import Baseline, LandingLimits
from station.values import Landing


@dataclass(frozen=True, slots=True)
class FarLegRule:
    """What counts as small."""

    most_error_deg: float = 2.0
    """Degrees. The goal that the measurement keeps to for the shank (standard deviation, see
    `station/bench/bounds.py`): a far leg that keeps to it is as good as a near one."""
    unseen_share: float = 0.5
    """Of a change of the far leg's shank, the share that may go unseen: about half in the demo's
    drawn pictures (2 degrees low where the leg reaches, 4 high where it does not), less on rendered
    runners."""


DEFAULT_FAR_LEG_RULE = FarLegRule()


def is_answered(
    landing: Landing,
    limits: LandingLimits,
    baseline: Baseline | None,
    change_deg: float = 0.0,
    bay_error_deg: float | None = None,
    rule: FarLegRule = DEFAULT_FAR_LEG_RULE,
) -> bool:
    """Return whether a landing may be answered with a cue, a correction or praise.

    Its verdict is told and recorded either way, and counts for mastery.

    Args:
        landing: Of either leg.
        limits: That it is judged by.
        baseline: The runner's at this belt setting, from this bay; None: there is none.
        change_deg: The change against the baseline that the limit asks for.
        bay_error_deg: The far leg's shank error in this bay as the profile holds it; None: it was
            never measured.
        rule: What counts as small.

    Returns:
        True for the near leg. For the far leg True where its error is known and at most
        `most_error_deg`, and this landing's own standard error is not beyond it either.
    """
    if landing.near:
        return True
    own_deg = landing.shank_error_deg
    if own_deg is None or not math.isfinite(own_deg) or own_deg > rule.most_error_deg:
        return False
    if bay_error_deg is not None:
        return bay_error_deg <= rule.most_error_deg
    if limits.of(landing.side).origin != "baseline" or baseline is None:
        return False
    leg = baseline.of(landing.side)
    if leg is None:
        return False
    return math.hypot(leg.spread_deg, rule.unseen_share * change_deg) <= rule.most_error_deg
