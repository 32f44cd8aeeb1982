"""Tells tiredness from landings that get worse late in a drill."""

from __future__ import annotations

from collections.abc import Iterable

WORSE_BY = 0.2
"""By so much of the landings the last third is worse than the first."""
LEAST_JUDGED = 20
"""Judged landings in each of the two thirds; fewer prove nothing."""
USUAL_SHARE = 0.9
"""What a drill without a gate is held against."""


def shows_fatigue(
    judged: Iterable[tuple[float, bool]], length_s: float, share: float | None
) -> bool:
    """Return whether landings got worse late, as they do when a runner tires.

    Args:
        judged: Each judged landing's time in the drill, seconds, and whether it was within; of both
            legs together.
        length_s: How long the drill ran.
        share: What its gate asks for; None: there is none.

    Returns:
        True when the share within of the last third of the time is `WORSE_BY` or more below that
        of the first third, and below `share`. Both are this project's own choice.
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
    return early - late >= WORSE_BY - 1e-9 and late < wanted - 1e-9
