"""Rate, length and duty of steps: the identities between times and speed, in one place."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import fmean, median

_SAME_RHYTHM = 0.25
"""A step time further from the median than this share is a contact missed, or told twice."""


def step_rate_spm(step_time_s: float) -> float:
    """Return steps per minute.

    Args:
        step_time_s: From one contact to the next of either foot, over 0. One step, not a stride:
            a stride's two steps take twice as long.
    """
    return 60.0 / step_time_s


def usual_step_time_s(step_times_s: Sequence[float]) -> float:
    """Return the mean step time of a run of steps, odd ones left out, seconds.

    Not the median: where left and right steps differ, that jumps between the two; and what one
    contact's time is off by lengthens one step and shortens the next, which a mean takes out.

    Args:
        step_times_s: At least one.
    """
    middle = median(step_times_s)
    alike = [t for t in step_times_s if abs(t - middle) <= _SAME_RHYTHM * middle]
    return fmean(alike) if alike else middle  # half of them missed: no time lies near the middle


def step_length_m(belt_mps: float, step_time_s: float) -> float:
    """Return how far the belt runs in one step, metres: the runner's step length over ground.

    Args:
        belt_mps: Belt speed.
        step_time_s: From one contact to the next of either foot.
    """
    return belt_mps * step_time_s


def duty_factor(contact_s: float, flight_s: float) -> float | None:
    """Return contact time as a share of the stride time.

    The stride is taken as two steps like this one: contact and flight, twice.

    Args:
        contact_s: Contact time.
        flight_s: From toe-off to the next contact of either foot; negative in double support, and
            then the factor is over one half (walking).

    Returns:
        The share, or None where the two times give no step.
    """
    step_s = contact_s + flight_s
    return contact_s / (2.0 * step_s) if step_s > 0.0 else None
