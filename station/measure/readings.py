"""Angles and places of the body at an instant, read from the frames around it.

Everything is in the measuring plane (pixels, x ahead, y up against gravity); angles in degrees to
gravity, signs as in the design.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from station.measure.history import ANKLE, HEEL, HIP, KNEE, LEG_POINTS, TOE, History
from station.measure.local_fit import LocalFit, local_fit
from station.values import Floats

UPPER_NAMES: tuple[str, ...] = (
    "nose", "left_ear", "right_ear", "left_shoulder", "right_shoulder",
    "left_elbow", "right_elbow", "left_wrist", "right_wrist",
)  # fmt: skip
"""The upper body's points in a `History`, in this order."""
_EARS = slice(1, 3)
_SHOULDERS = slice(3, 5)
MOST_SHANK_DEG = 40.0
"""No runner lands with the shank further from the vertical (-8 to 20 deg are usual: common
practice, no source)."""
_STRAIGHT_DEG = 12.0
"""So far over straight may a straight knee be read."""
_REACH_S = 0.047
_REACH_FRAMES = 2.05
"""Frames this far around an instant are used to read it: seconds or frames, whichever is more."""


@dataclass(frozen=True, slots=True, eq=False)
class LegReading:
    """One leg at an instant."""

    points: Floats
    """(5, 2) plane pixels; NaN where unknown."""
    shank: LocalFit | None
    """Degrees and degrees per second."""
    foot_deg: float | None
    """Heel to toe landmark against the horizontal, toes up positive."""
    knee_flexion_deg: float | None
    thigh_deg: float | None
    """Knee ahead of the hip is positive."""


def frames_around(history: History, at_s: float) -> slice:
    """Return which frames are used to read something at `at_s`."""
    recent = history.t_s[-8:]
    frame_s = float(np.median(np.diff(recent))) if len(recent) > 1 else 0.0
    reach = max(_REACH_S, _REACH_FRAMES * frame_s)
    return history.span(at_s - reach, at_s + reach)


def angle_deg(ahead: Floats, up: Floats) -> Floats:
    """Return angles of (ahead, up) to the upward vertical, degrees, ahead positive."""
    return np.asarray(np.degrees(np.arctan2(ahead, up)))


def shank_angles(legs: Floats) -> Floats:
    """Return shank angles of legs (..., 5, 2), degrees; positive: ankle ahead of the knee."""
    d = legs[..., ANKLE, :] - legs[..., KNEE, :]
    return angle_deg(d[..., 0], -d[..., 1])


def thigh_angles(legs: Floats) -> Floats:
    """Return thigh angles of legs (..., 5, 2), degrees; positive: knee ahead of the hip."""
    d = legs[..., KNEE, :] - legs[..., HIP, :]
    return angle_deg(d[..., 0], -d[..., 1])


def foot_angles(legs: Floats) -> Floats:
    """Return foot angles of legs (..., 5, 2) to the horizontal, degrees; toes up positive."""
    d = legs[..., TOE, :] - legs[..., HEEL, :]
    return np.asarray(np.degrees(np.arctan2(d[..., 1], d[..., 0])))


def knee_flexions(legs: Floats) -> Floats:
    """Return knee flexion of legs (..., 5, 2), degrees; 0 straight."""
    return thigh_angles(legs) - shank_angles(legs)


def read_leg(history: History, side: int, at_s: float) -> LegReading:
    """Read one leg at `at_s` from the frames around it."""
    window = frames_around(history, at_s)
    t = history.t_s[window]
    legs = history.legs[window, side]
    points = np.full((LEG_POINTS, 2), np.nan)
    for p in range(LEG_POINTS):
        for axis in (0, 1):
            fit = local_fit(t, legs[:, p, axis], at_s)
            if fit is not None:
                points[p, axis] = fit.value
    shank = local_fit(t, shank_angles(legs), at_s)
    return LegReading(
        points,
        shank,
        _value(local_fit(t, foot_angles(legs), at_s)),
        _value(local_fit(t, knee_flexions(legs), at_s)),
        _value(local_fit(t, thigh_angles(legs), at_s)),
    )


def is_a_leg(reading: LegReading) -> bool:
    """Whether a leg at a landing is one that a runner can have.

    A wrong facing or a picture upside down gives knees that bend forward and shanks far off the
    vertical.
    """
    shank, bend = reading.shank, reading.knee_flexion_deg
    if shank is None or abs(shank.value) > MOST_SHANK_DEG:
        return False
    if reading.points[ANKLE, 1] > reading.points[HIP, 1]:
        return False
    return bend is None or bend > -_STRAIGHT_DEG


def shank_at(history: History, side: int, at_s: float) -> float | None:
    """Return the shank angle at `at_s`, degrees."""
    window = frames_around(history, at_s)
    angles = shank_angles(history.legs[window, side])
    return _value(local_fit(history.t_s[window], angles, at_s))


def trunk_lean_deg(history: History, from_s: float, to_s: float) -> float | None:
    """Return the mean lean of hips to shoulders between two times, degrees, forward positive."""
    window = history.span(from_s, to_s)
    hips = history.legs[window, :, HIP].mean(axis=1)
    up = _mean_known(history.upper[window, _SHOULDERS]) - hips
    return _mean(angle_deg(up[:, 0], up[:, 1]))


def body_lean_deg(history: History, side: int, at_s: float) -> float | None:
    """Return the lean of this ankle to the head about `at_s`, degrees, forward positive."""
    window = history.span(at_s - 0.03, at_s + 0.03)
    head = _mean_known(history.upper[window, _EARS])
    head = np.where(np.isfinite(head), head, history.upper[window, 0])
    up = head - history.legs[window, side, ANKLE]
    return _mean(angle_deg(up[:, 0], up[:, 1]))


def known(value: float | None) -> float | None:
    """Return the value, or None for NaN."""
    return None if value is None or not math.isfinite(value) else value


def _value(fit: LocalFit | None) -> float | None:
    return None if fit is None else known(fit.value)


def _mean(values: Floats) -> float | None:
    values = values[np.isfinite(values)]
    return float(np.median(values)) if len(values) else None


def _mean_known(points: Floats) -> Floats:
    """Mean (n, 2) over the known ones of (n, k, 2)."""
    ok = np.isfinite(points)
    count = ok.sum(axis=1)
    total = np.where(ok, points, 0.0).sum(axis=1)
    return np.asarray(np.where(count > 0, total / np.maximum(count, 1), np.nan))
