"""How long a drill may take: its length, or a bound for one that waits for steps."""

from __future__ import annotations

from station.coach.plan import Drill

SECONDS_PER_STEP = 1.0
SECONDS_PER_HOP = 1.5
GRACE_S = 60.0
"""A drill by steps or hops ends after so many seconds for each and this on top, whatever came."""


def length_s(drill: Drill) -> float:
    """Return after how long a drill ends by time: its length, or the bound of one by steps."""
    if drill.seconds is not None:
        return drill.seconds
    if drill.hops:
        return drill.hop_count * SECONDS_PER_HOP + GRACE_S
    return (drill.steps or 0) * SECONDS_PER_STEP + GRACE_S
