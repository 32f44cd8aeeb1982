"""The heel within one stance: when it comes down, and whether it never does on a pointed foot."""

from __future__ import annotations

import numpy as np

from station.measure.history import ANKLE, HEEL, HIP, History
from station.measure.readings import foot_angles
from station.values import Floats

_SETTLED = 0.012
"""A heel within this of its resting height is down, in leg lengths."""
POINTED_DEG = -20.0
"""Heel to toe mark against the belt, toes up positive: from here down the toe is steeply pointed.
A foot that stands flat shows 0 to -9, a forefoot striker's -5 to -15. Common practice, no
source."""
NEVER_FLAT_DEG = -12.0
"""A foot that stays below this all through its stance never brings its heel down."""


def heel_down_s(
    history: History,
    side: int,
    t_contact_s: float,
    stance_end_s: float,
    slope: float,
    heel_rest: float | None,
) -> float | None:
    """Return the time from contact until the heel is at its resting height, seconds.

    Args:
        history: Frames until the end of the stance.
        side: 0 left, 1 right.
        t_contact_s: When the foot came down.
        stance_end_s: When it left.
        slope: Belt rise, plane y per x.
        heel_rest: The heel's usual height in stance over the belt line, plane pixels.

    Returns:
        0 or more; None where it is not down within the stance, or not seen.
    """
    if heel_rest is None:
        return None
    window = history.span(t_contact_s - 0.03, stance_end_s)
    heel = history.legs[window, side, HEEL]
    height = heel[:, 1] - slope * heel[:, 0] - heel_rest
    t = history.t_s[window]
    good = np.isfinite(height)
    height, t = height[good], t[good]
    if len(height) < 4:
        return None
    leg = np.linalg.norm(
        history.legs[window, side, HIP] - history.legs[window, side, ANKLE], axis=1
    )
    down = np.where(_three_frame_means(height) < _SETTLED * float(np.nanmedian(leg)))[0]
    return max(0.0, float(t[1:-1][int(down[0])]) - t_contact_s) if len(down) else None


def toe_dive(
    history: History, side: int, t_contact_s: float, stance_end_s: float, slope: float
) -> bool | None:
    """Return whether the foot dives in toe first: steeply pointed, and the heel never comes down.

    The foot's own pitch against the belt tells it, not a learned resting height: whoever lands so
    at every step has taught the station a heel that rests high.

    Args:
        history: Frames until the end of the stance.
        side: 0 left, 1 right.
        t_contact_s: When the foot came down.
        stance_end_s: When it left.
        slope: Belt rise, plane y per x.

    Returns:
        None where the foot is seen too little.
    """
    belt_deg = float(np.degrees(np.arctan(slope)))
    landing = history.span(t_contact_s - 0.025, t_contact_s + 0.025)
    stance = history.span(t_contact_s, stance_end_s)
    pitch_in = _known(foot_angles(history.legs[landing, side]) - belt_deg)
    pitch = _known(foot_angles(history.legs[stance, side]) - belt_deg)
    if len(pitch_in) < 1 or len(pitch) < 5:
        return None
    flattest = float(_three_frame_means(pitch).max())
    return float(np.median(pitch_in)) < POINTED_DEG and flattest < NEVER_FLAT_DEG


def _known(values: Floats) -> Floats:
    return np.asarray(values[np.isfinite(values)])


def _three_frame_means(values: Floats) -> Floats:
    return np.asarray(np.convolve(values, np.full(3, 1.0 / 3.0), mode="valid"))
