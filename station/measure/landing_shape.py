"""How a runner's shank turns about contact, and what a parabola through a few frames makes of it.

A landing's shank angle is read by a parabola through the frames around contact. The true movement
is no parabola (the shank reaches, turns back, and is caught by the foot coming flat), so that the
reading is off by up to 1.5 deg at 30 frames per second, the same way at each landing of a runner.
The last landings laid over each other show the movement itself, sampled finely because frames fall
at another place in each; what the parabola misses of it is taken off the reading.
"""

from __future__ import annotations

import math
from collections import deque
from dataclasses import replace

import numpy as np

from station.measure.history import ANKLE, KNEE, History
from station.measure.local_fit import local_fit, smooth_lines
from station.measure.readings import LegReading, frames_around, shank_angles
from station.values import Floats

_LANDINGS = 24
_SPAN_S = 0.1
"""Frames this far around contact are kept."""
_BANDWIDTH_S = 0.008
_GRID_S = np.arange(-_SPAN_S, _SPAN_S + 0.001, 0.004)
_ALIGNED = 2
"""Passes: each landing that comes aligns all of them anew."""
_HALF_KNOWN = 1.0
"""Of so many landings' common shape half is believed: the rest may be noise."""
_OWN, _OWN_KNOWN = 0.5, 6.0
"""Weight of a leg's own shape against that of both, which scatters less: half of what it is with
so many landings of its own, and the first when there are many."""
_MOST_DEG = 3.0

_Landing = tuple[Floats, Floats]
"""Times after contact, and shank angles against all of them, degrees."""


class LandingShape:
    """The last landings of both legs. One thread."""

    def __init__(self) -> None:
        """Begin with nothing known: readings stay as they are."""
        self._landings: tuple[deque[_Landing], deque[_Landing]] = (
            deque(maxlen=_LANDINGS),
            deque(maxlen=_LANDINGS),
        )

    def clear(self) -> None:
        """Forget all landings: the way of running has changed."""
        for landings in self._landings:
            landings.clear()

    def add(self, history: History, side: int, at_s: float, shank_deg: float) -> None:
        """Take in one landing.

        Args:
            history: Frames so far, best to 0.1 s past the contact.
            side: 0 left, 1 right.
            at_s: The contact.
            shank_deg: As `read_leg` reads it there.
        """
        window = history.span(at_s - _SPAN_S, at_s + _SPAN_S)
        angles = shank_angles(history.legs[window, side]) - shank_deg
        good = np.isfinite(angles)
        self._landings[side].append((history.t_s[window][good] - at_s, angles[good]))
        self._align()

    def _align(self) -> None:
        """Lay the landings over each other by all of their frames.

        By their readings alone they would lie apart by just what the readings are off: landings
        whose frames fall at other places are read off differently.
        """
        landings = [*self._landings[0], *self._landings[1]]
        for _ in range(_ALIGNED):
            at = np.concatenate([t for t, _ in landings])
            shape, _ = smooth_lines(
                at, np.concatenate([a for _, a in landings]), _GRID_S, _BANDWIDTH_S
            )
            for t, angles in landings:
                off = angles - np.interp(t, _GRID_S, shape)
                off = off[np.isfinite(off)]
                if len(off):
                    angles -= off.mean()

    def corrected(
        self, reading: LegReading, history: History, side: int, at_s: float
    ) -> LegReading:
        """Return a reading at contact with its shank angle and ankle put right.

        Args:
            reading: As `read_leg` has it from the same history.
            history: Frames so far.
            side: 0 left, 1 right.
            at_s: The contact.
        """
        if reading.shank is None:
            return reading
        window = frames_around(history, at_s)
        seen = np.isfinite(shank_angles(history.legs[window, side]))
        tau = history.t_s[window][seen] - at_s
        own, both = self._landings[side], [*self._landings[0], *self._landings[1]]
        weight = _OWN * len(own) / (len(own) + _OWN_KNOWN)
        off = weight * _too_high(list(own), tau) + (1.0 - weight) * _too_high(both, tau)
        points = reading.points.copy()
        points[ANKLE] = points[KNEE] + _turned(points[ANKLE] - points[KNEE], -off)
        return replace(
            reading, points=points, shank=replace(reading.shank, value=reading.shank.value - off)
        )


def _too_high(landings: list[_Landing], tau: Floats) -> float:
    """Return what a parabola through frames at `tau` reads too high at contact, degrees."""
    if not landings or not len(tau):
        return 0.0
    at = np.concatenate([t for t, _ in landings])
    angles = np.concatenate([a for _, a in landings])
    shape, _ = smooth_lines(at, angles, np.append(tau, 0.0), _BANDWIDTH_S)
    read = local_fit(tau, shape[:-1], 0.0)
    if read is None or not math.isfinite(float(shape[-1])):
        return 0.0
    known = len(landings) / (len(landings) + _HALF_KNOWN)
    return float(np.clip(known * (read.value - float(shape[-1])), -_MOST_DEG, _MOST_DEG))


def _turned(shank: Floats, by_deg: float) -> Floats:
    """Return knee to ankle (2,) with its ankle further ahead by an angle."""
    turn = math.radians(by_deg)
    x, y = float(shank[0]), float(shank[1])
    cos, sin = math.cos(turn), math.sin(turn)
    return np.array([x * cos - y * sin, x * sin + y * cos])
