"""Makes the value of a landing from what was read of it at the instant of contact."""

from __future__ import annotations

import numpy as np

from station.measure.contacts import Contact
from station.measure.foot_strike import strike_class
from station.measure.history import ANKLE, HEEL, KNEE, TOE
from station.measure.leg_level import LegLevel
from station.values import Floats, Landing, Side

NO_TRUST_DEG = 6.0
"""Standard error of the shank angle at which a landing is not trusted at all."""
FULL_VISIBILITY = 0.9
"""Mean visibility of the feet from which on it takes nothing off the trust."""


def landing_of(
    contact: Contact,
    points_px: Floats,
    *,
    number: int,
    side: Side,
    near: bool,
    reading_deg: float | None,
    reading_error_deg: float | None,
    level: LegLevel,
    ankle_ahead_m: float | None,
    foot_deg: float | None,
    step_time_s: float | None,
    visibility: float,
) -> Landing:
    """Return a landing; angles to gravity in degrees, signs as in `Landing`.

    Args:
        contact: When it was, and up to which frame it was worked out.
        points_px: (5, 2) hip, knee, ankle, heel, toe at that instant, image pixels.
        number: Of the landing, from 1.
        side: The runner's own.
        near: Whether it is the leg nearer the camera.
        reading_deg: Shank angle as read; None: not measurable here.
        reading_error_deg: Its standard error; None: not measurable, then the trust is 0.
        level: Of this leg; it takes the reading and gives the best estimate of the landing.
        ankle_ahead_m: Of the knee; None: the scale is not known.
        foot_deg: To the belt; None: not to be told.
        step_time_s: Since the last contact of either foot; None: the first of a run.
        visibility: Running mean of the feet's, 0 to 1.
    """
    confidence = 0.0
    shank_deg = shank_error_deg = None
    if reading_deg is not None and reading_error_deg is not None:
        shank_deg, shank_error_deg = level.take(reading_deg, reading_error_deg)
        # By the reading's own error: a landing that was hardly seen is not told by the ones before.
        confidence = float(np.clip(1.0 - reading_error_deg / NO_TRUST_DEG, 0.0, 1.0))
        confidence *= float(np.clip(visibility / FULL_VISIBILITY, 0.0, 1.0))
    return Landing(
        number=number,
        side=side,
        near=near,
        t_contact_s=contact.t_contact_s,
        t_verdict_s=contact.t_told_s,
        shank_deg=shank_deg,
        shank_error_deg=shank_error_deg,
        ankle_ahead_m=ankle_ahead_m,
        foot_deg=foot_deg,
        strike=strike_class(foot_deg),
        step_time_s=step_time_s,
        confidence=confidence,
        knee_px=_point(points_px[KNEE]),
        ankle_px=_point(points_px[ANKLE]),
        heel_px=_point(points_px[HEEL]),
        toe_px=_point(points_px[TOE]),
        reading_deg=reading_deg,
        reading_error_deg=reading_error_deg,
    )


def _point(xy: Floats) -> tuple[float, float]:
    return float(xy[0]), float(xy[1])
