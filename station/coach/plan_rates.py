"""How the step rate of one drill compares with that of another, as far as a plan can tell."""

from __future__ import annotations

from station.coach.plan import StepRate


def rate_rises(before: StepRate | None, after: StepRate | None) -> bool | None:
    """Return whether a drill asks for a higher step rate than the one before it.

    Args:
        before: Of the drill before; None: nothing was asked, so the runner's own rate.
        after: Of the drill; None, or the runner's own: nothing is asked.

    Returns:
        None where it cannot be told: a number of steps against the runner's own rate, which a plan
        does not know.
    """
    if after is None or after.own:
        return False
    if after.spm is not None:
        if before is None or before.spm is None:
            return None
        return after.spm > before.spm
    rise = rise_points(before, after)
    return None if rise is None else rise > 0.0


def rise_points(before: StepRate | None, after: StepRate | None) -> float | None:
    """Return by how many percent of the runner's baseline the asked step rate rises.

    Args:
        before: Of the drill before; None: the runner's own rate.
        after: Of the drill; None, or the runner's own: nothing is asked.

    Returns:
        Between two numbers of steps in percent of the first; negative where it falls; None where
        it cannot be told.
    """
    if after is None or after.own:
        return 0.0
    if after.spm is not None:
        if before is None or before.spm is None:
            return None
        return 100.0 * (after.spm / before.spm - 1.0)
    start = 0.0 if before is None else before.change_percent
    if start is None or after.change_percent is None:
        return None
    return after.change_percent - start
