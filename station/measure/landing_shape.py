"""How a runner's shank turns about contact, and what a parabola through a few frames makes of it.

A landing's shank angle is read by a parabola through the frames around contact. The true movement
is no parabola (the shank reaches, turns back, and is caught by the foot coming flat), so that the
reading is off by up to 1.5 deg at 30 frames per second, the same way at each landing of a runner.
The last landings laid over each other show the movement itself, sampled finely because frames fall
at another place in each. What a landing has in common with them is taken off its frames, and only
what is its own is fitted: how high it lies, how fast it turns, and, held short, how it bends. So
the reading is neither off by what no parabola can follow, nor scatters with the bend that a few
noisy frames show.
"""

from __future__ import annotations

import math
from collections import deque
from dataclasses import replace

import numpy as np

from station.measure.history import ANKLE, KNEE, History
from station.measure.local_fit import local_fit, smooth_curves, smooth_lines
from station.measure.readings import LegReading, frames_around, shank_angles
from station.values import Floats

_LANDINGS = 24
_SPAN_S = 0.1
"""Frames this far around contact are kept."""
_BANDWIDTH_S = 0.008
_GRID_S = np.arange(-_SPAN_S, _SPAN_S + 0.001, 0.004)
_ALIGNED = 2
"""Passes: each landing that comes aligns all of them anew."""
_OWN, _OWN_KNOWN = 0.5, 6.0
"""Weight of a leg's own shape against that of both, which scatters less: half of what it is with
so many landings of its own, and the first when there are many."""
_UNLIKE = 0.15
"""So much of it a landing's bend differs from the usual one's."""
_NOISE_DEG = 1.9
"""Usual scatter of a shank's angle: of ends half a leg apart, each by 0.012 leg lengths."""
_POOLED_AS_ONE = 4.0
"""So many pooled landings show the usual bend as well as a landing shows its own: they are laid
over each other with errors, and smoothed."""
_RATE_S = 0.01
"""The usual shank's rate at contact is read over twice this."""
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
        angles = shank_angles(history.legs[window, side])
        seen = np.isfinite(angles)
        tau, angles = history.t_s[window][seen] - at_s, angles[seen]
        at = np.concatenate([tau, [0.0, -_RATE_S, _RATE_S]])
        usual = self._usual(side, at)
        if usual is None:
            return reading
        usual = usual - usual[len(tau)]
        fit = local_fit(
            tau, angles - usual[: len(tau)], 0.0, straight_s2=self._likeness_s2(tau, usual)
        )
        if fit is None:
            return reading
        rate = fit.rate + float(usual[-1] - usual[-2]) / (2.0 * _RATE_S)
        points = reading.points.copy()
        by_deg = fit.value - reading.shank.value
        points[ANKLE] = points[KNEE] + _turned(points[ANKLE] - points[KNEE], by_deg)
        return replace(reading, points=points, shank=replace(fit, rate=rate))

    def _usual(self, side: int, at: Floats) -> Floats | None:
        """Return (m,) the usual shank of a leg at times after contact; None: not known at all."""
        own, both = self._landings[side], [*self._landings[0], *self._landings[1]]
        if not both:
            return None
        usual = _pooled(both, at)
        if own:
            weight = _OWN * len(own) / (len(own) + _OWN_KNOWN)
            own_way = _pooled(list(own), at)
            usual = np.where(np.isfinite(own_way), weight * own_way + (1.0 - weight) * usual, usual)
        return usual if np.isfinite(usual).all() else None

    def _likeness_s2(self, tau: Floats, usual: Floats) -> float:
        """Return how firmly a landing's bend is held to the usual one (see `local_fit`).

        Landings differ in it by a share of it, and the usual one is known only so well.
        """
        squares = tau * tau
        spread = float(((squares - squares.mean()) ** 2).sum())
        if len(tau) < 3 or spread <= 0.0:
            return 0.0
        bend = float(np.polyfit(tau, usual[: len(tau)], 2)[0])
        known = sum(map(len, self._landings)) * spread / _POOLED_AS_ONE
        return 1.0 / math.sqrt((_UNLIKE * bend / _NOISE_DEG) ** 2 + 1.0 / known)


def _pooled(landings: list[_Landing], at: Floats) -> Floats:
    return smooth_curves(
        np.concatenate([t for t, _ in landings]),
        np.concatenate([a for _, a in landings]),
        at,
        _BANDWIDTH_S,
    )


def _turned(shank: Floats, by_deg: float) -> Floats:
    """Return knee to ankle (2,) with its ankle further ahead by an angle."""
    turn = math.radians(by_deg)
    x, y = float(shank[0]), float(shank[1])
    cos, sin = math.cos(turn), math.sin(turn)
    return np.array([x * cos - y * sin, x * sin + y * cos])
