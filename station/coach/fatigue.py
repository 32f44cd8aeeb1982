"""Tells tiredness from landings that get worse late in a drill."""

from __future__ import annotations

from collections.abc import Iterable
from statistics import fmean

WORSE_BY = 0.2
"""By so much of the landings the last third is worse than the first."""
REACH_DEG = 1.0
"""By so much, too, the shank is further ahead, where it was read. A leg that lands just at its
limit is told within or ahead for a while each by a tenth of a degree; that is no tiring. Of 40
readings a leg the means differ by 0.3 deg (SD) by chance. This project's own choice."""
LEAST_JUDGED = 20
"""Judged landings in each of the two thirds; fewer prove nothing."""
USUAL_SHARE = 0.9
"""What a drill without a gate is held against."""


def shows_fatigue(
    judged: Iterable[tuple[float, bool]],
    length_s: float,
    share: float | None,
    readings: Iterable[tuple[float, float]] = (),
) -> bool:
    """Return whether landings got worse late, as they do when a runner tires.

    Args:
        judged: Each judged landing's time in the drill, seconds, and whether it was within; of both
            legs together.
        length_s: How long the drill ran.
        share: What its gate asks for; None: there is none.
        readings: Each landing's time in the drill and its shank angle as read by itself, degrees;
            empty: only the verdicts are gone by.

    Returns:
        True when the share within of the last third of the time is `WORSE_BY` or more below that
        of the first third, and below `share` (both this project's own choice), and the shank was
        `REACH_DEG` further ahead.
    """
    first: list[bool] = []
    last: list[bool] = []
    for at_s, within in judged:
        if at_s < length_s / 3.0:
            first.append(within)
        elif at_s >= 2.0 * length_s / 3.0:
            last.append(within)
    if min(len(first), len(last)) < LEAST_JUDGED:
        return False
    early, late = sum(first) / len(first), sum(last) / len(last)
    wanted = USUAL_SHARE if share is None else share
    read = list(readings)
    first_deg = [deg for at_s, deg in read if at_s < length_s / 3.0]
    last_deg = [deg for at_s, deg in read if at_s >= 2.0 * length_s / 3.0]
    if first_deg and last_deg and fmean(last_deg) - fmean(first_deg) < REACH_DEG:
        return False
    return early - late >= WORSE_BY - 1e-9 and late < wanted - 1e-9
