"""How a drill's limit went: the coach's keys may have moved it."""

from __future__ import annotations

from station.keep.report.facts import DrillFacts, SessionFacts
from station.values import Side

CHANGE = "change limit"
"""What a coach's event says of it."""


def limit_course(
    session: SessionFacts, drill: DrillFacts, side: Side
) -> list[tuple[float, float, float]]:
    """Return from when to when which limit held, seconds and degrees.

    What is on record is the limit at the drill's end; from there it is followed back through the
    coach's keys.

    Args:
        session: Its events.
        drill: A drill of it.
        side: The leg.

    Returns:
        In order of time; empty where no limit is known.
    """
    if drill.limits is None:
        return []
    deg = drill.limits.of(side).deg
    until_s = drill.began_s + drill.seconds
    found = []
    for event in reversed(session.events):
        if event.kind != "coach" or event.why != CHANGE:
            continue
        by_deg = event.values.get("by_deg")
        inside = drill.began_s < event.t_s < drill.began_s + drill.seconds
        if not inside or not isinstance(by_deg, (int, float)):
            continue
        found.append((event.t_s, until_s, deg))
        until_s, deg = event.t_s, deg - by_deg
    found.append((drill.began_s, until_s, deg))
    return found[::-1]
