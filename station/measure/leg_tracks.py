"""Leg identity: which of the two leg chains in a frame is the runner's left, which the right.

A pose model finds both legs but mixes them up in bursts, sometimes only below the knee. Whether it
did so in one frame is often not to be told in that frame: where the legs pass each other, either
way will do, and what comes after decides. So a few guesses are followed side by side (a Viterbi
search of bounded width). Each pays for what it must believe: points far from where its tracks
lead, a shank too long or too short, the model's names swapped, a burst that lasts, and the
admission that it had the legs wrong. The cheapest one names the legs. A wrong start is given up
once it has lasted about as long as bursts never do, within a stride.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from station.measure.history import ANKLE, HIP, KNEE
from station.measure.leg_filter import (
    LOST_S,
    NOISE,
    POINTS,
    LegFilter,
    known_points,
    origin,
)
from station.values import Floats

_GUESSES = 6
"""Kept side by side."""
_ALIKE = 4**6
"""Guesses that named the last six frames alike have grown together: the cheaper one stays."""
_FAR_DEARER = 25.0
"""A guess so much dearer than the best is dropped (log odds)."""
_COST_CAP = 8.0
"""No single point may outvote the rest of the leg (log odds)."""
_SHANK_SPREAD = 0.12
"""A shank's length in the side view scatters by this share."""
# What the model does from frame to frame, as log odds: rows before, columns now. The states: as
# named; the part below the knee swapped; the part above; both. Bursts of 1 to 4 frames in 10 to
# 16 % of frames, most of whole legs, as seen on drawn runners and on a person beside a treadmill.
_STEPS = -np.log(
    np.array(
        [
            (0.915, 0.030, 0.005, 0.050),
            (0.350, 0.580, 0.010, 0.060),
            (0.450, 0.020, 0.500, 0.030),
            (0.350, 0.050, 0.010, 0.590),
        ]
    )
)
_OWN_FAULT = np.array([0.0, 9.0, 9.0, 9.0])
"""Log odds against having the legs wrong so far: not, below the knee, above it, both."""
_AT_FIRST = np.array([0.0, 3.2, 4.5, 2.4])
"""Log odds against each state in a first frame."""
_SURE = 3.0
"""By how much every guess that has the feet the other way must be dearer (log odds)."""
_SURE_S = 0.15
"""Legs followed for less than this may still be mixed up: a crossing lasts about as long."""
_ASTRAY = 30.0
"""Mean cost of a frame (log odds) over which the points found are no runner's legs in motion.
At 30 frames a second trials, simulated runners and clips, noisy and swapped, stay under 27.5, and
pictures in which the model finds no steady legs are over 31; lower at higher rates."""
_ASTRAY_PER_S = 480.0
"""More of it per second that frames are further apart: at 24 a second they go up to 31."""
_ASTRAY_S = 0.1
"""So long must it stay over: of a fast runner at 30 frames a second it is 27 with a scatter of 0.9,
and a single frame over 30 took a contact."""
_BACK = 3.0
"""So far below it must the cost fall before the legs are believed again."""
_USUAL_COST = 22.0
_COST_SHARE = 0.1
"""Weight of one frame in the mean cost."""
_STATE = np.arange(4)
_WAYS = np.array([[0, 1], [1, 0]])
"""The legs as found, and the other way round."""
_EXCLUSIVE = _STATE[:, None] ^ _STATE[None, :]
_MIXED = np.array([0, 1, 1, 0])
"""Whether a state joins one leg's knee with the other's foot, against what the model joined."""


@dataclass(frozen=True, slots=True, eq=False)
class NamedLegs:
    """One frame's legs, put right."""

    legs: Floats
    """(2, 5, 2) left, right; NaN where the point was missing or not to be believed."""
    swapped: bool
    """Whether the pose model had the lower legs the other way round."""
    collapsed: bool
    """Whether both legs were found on one place although they should be apart."""


class LegTracks:
    """Follows two leg chains from frame to frame. Plane pixels; one clock."""

    def __init__(self) -> None:
        """Begin with no tracks."""
        self._filter = LegFilter()
        self._cost = _AT_FIRST
        self._state = _STATE
        self._trail = _STATE
        self._begun_s = np.inf
        self._sure = False
        self._mean_cost = _USUAL_COST
        self._astray = False
        self._dear_since_s = np.inf
        self._first_sure_s = np.inf
        self._shank: float = float("nan")
        self._leg: float = float("nan")

    @property
    def leg_px(self) -> float:
        """Thigh plus shank in pixels, a slow mean; NaN before the first legs."""
        return self._leg

    @property
    def shank_px(self) -> float:
        """Knee to ankle in pixels, a slow mean."""
        return self._shank

    @property
    def sure(self) -> bool:
        """Whether the legs' names outweigh a burst of swapped frames since they were last in doubt.

        They are in doubt at the start, when the best guess owns to have had them wrong, and when
        the tracks are astray.
        """
        return self._sure and not self._astray

    @property
    def astray(self) -> bool:
        """Whether the points lately found fit no legs in motion, however they are named."""
        return self._astray

    @property
    def first_sure_s(self) -> float:
        """When the names were sure for the first time since the legs came into view."""
        return self._first_sure_s

    @property
    def place_px(self) -> Floats:
        """(2, 5, 2) where the best guess has the points, left and right."""
        return np.asarray(self._filter.place[0])

    @property
    def speed_px_s(self) -> Floats:
        """(2, 5, 2) the best guess's speeds."""
        return np.asarray(self._filter.speed[0])

    def push(self, t_s: float, found: Floats) -> NamedLegs:
        """Take one frame's legs and return them named.

        Args:
            t_s: Frame time; must grow.
            found: (2, 5, 2) as the pose model named them (left, right), NaN where unknown.

        Returns:
            The legs put right. All NaN when none were found.
        """
        if not np.isfinite(found).any():
            return NamedLegs(np.full_like(found, np.nan), False, False)
        self._learn_sizes(found)
        frame_s = t_s - float(self._filter.seen_s[0].max())
        if frame_s > LOST_S:
            return self._begin(t_s, found)
        predicted, ahead = self._filter.predict(t_s, self._leg)
        spread = np.sqrt(ahead[0] + (NOISE * self._leg) ** 2)
        parent, fault, state = self._choose(found, predicted, spread)
        self._note_astray(t_s, frame_s)
        guess, leg = parent[:, None, None], origin(*_parts(fault))
        self._filter.keep(guess, leg)
        predicted = predicted[guess, leg, POINTS]
        ahead = ahead[:, guess, leg, POINTS]
        spread = spread[guess, leg, POINTS]
        chains = found[origin(*_parts(state)), POINTS]
        collapsed = self._filter.gate(t_s, chains, predicted, spread, self._leg, self._shank)
        self._filter.follow(t_s, chains, predicted, ahead, self._leg)
        self._note_sure(t_s, bool(fault[0]))
        if t_s - self._begun_s <= _SURE_S:  # no speeds are known yet that points could misfit
            self._astray = False
        return NamedLegs(chains[0].copy(), bool(state[0] & 1), bool(collapsed[0]))

    def forget(self) -> None:
        """Drop the tracks (somebody left the picture); sizes are kept."""
        self._filter.forget()

    def _begin(self, t_s: float, found: Floats) -> NamedLegs:
        self._filter.begin(t_s, found[origin(*_parts(_STATE)), POINTS], self._leg)
        self._cost, self._state, self._trail = _AT_FIRST, _STATE, _STATE
        self._begun_s = t_s
        self._mean_cost, self._astray, self._dear_since_s = _USUAL_COST, False, np.inf
        self._sure = False
        self._first_sure_s = np.inf
        return NamedLegs(found.copy(), False, False)

    def _choose(
        self, found: Floats, predicted: Floats, spread: Floats
    ) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]]:
        """Let every guess go on in every way and keep the cheapest, the best first.

        Returns:
            For each guess kept: which one it comes from, which part of that one's tracks it has
            exchanged, and how it takes the model's names (states as in `_STEPS`).
        """
        ways = found[_WAYS]  # (way, leg, point, 2)
        off = ways - predicted[:, None]
        off *= off
        far = (off[..., 0] + off[..., 1]) / (spread * spread)[:, None]
        unsure = 2.0 * np.log(spread / (NOISE * self._leg))[:, None]
        dear = np.fmin(0.5 * far + unsure, _COST_CAP)  # (guess, way, leg, point)
        dear[:, ~known_points(ways)] = 0.0
        knee, hip = dear[..., KNEE], dear[..., HIP]
        above = (knee[..., 0] + knee[..., 1]) + 0.2 * (hip[..., 0] + hip[..., 1])
        # The three points of a foot stray together: they count as two.
        below = dear[..., ANKLE:].sum(axis=(-1, -2)) * 2.0 / 3.0
        moved = above[:, [0, 0, 1, 1]] + below[:, [0, 1, 0, 1]]  # (guess, way of the tracks)
        total = (
            self._cost[:, None, None]
            + _OWN_FAULT[None, :, None]
            + moved[:, _EXCLUSIVE]
            + self._shape_cost(found)[_MIXED]
            + _STEPS[_EXCLUSIVE[self._state]]
        )  # (guess, fault, state)
        flat = total.ravel()
        best = float(flat.min())
        self._mean_cost += _COST_SHARE * (best - self._mean_cost)
        kept: list[int] = []
        trails: list[int] = []
        before = self._trail.tolist()
        for one in np.argsort(flat)[: 4 * _GUESSES].tolist():
            if flat[one] > best + _FAR_DEARER or len(kept) == _GUESSES:
                break
            trail = (before[one // 16] * 4 + one % 4) % _ALIKE
            if trail not in trails:
                kept.append(one)
                trails.append(trail)
        chosen = np.array(kept, dtype=np.intp)
        self._cost = flat[chosen] - best
        self._trail = np.array(trails, dtype=np.intp)
        self._state = chosen % 4
        return chosen // 16, chosen // 4 % 4, self._state

    def _note_astray(self, t_s: float, frame_s: float) -> None:
        limit = _ASTRAY + _ASTRAY_PER_S * min(max(frame_s - 1.0 / 30.0, 0.0), 0.01)
        if self._mean_cost > (limit - _BACK if self._astray else limit):
            self._dear_since_s = min(self._dear_since_s, t_s)
            self._astray |= t_s - self._dear_since_s >= _ASTRAY_S - 1e-9
        else:
            self._dear_since_s, self._astray = np.inf, False

    def _note_sure(self, t_s: float, at_fault: bool) -> None:
        if at_fault:
            self._sure = False
        elif not self._sure and t_s - self._begun_s > _SURE_S:
            otherwise = (self._state & 1) != (self._state[0] & 1)
            self._sure = bool((self._cost[otherwise] > _SURE).all())
            if self._sure:
                self._first_sure_s = min(self._first_sure_s, t_s)

    def _learn_sizes(self, found: Floats) -> None:
        parts = found[:, KNEE : ANKLE + 1] - found[:, HIP : KNEE + 1]
        parts *= parts
        lengths = np.sqrt(parts[..., 0] + parts[..., 1])
        shank = lengths[:, 1]
        leg = lengths[:, 0] + shank
        seen = np.isfinite(leg)
        if not seen.any():
            return
        if math.isnan(self._leg):
            self._leg, self._shank = float(leg[seen].mean()), float(shank[seen].mean())
        # A median follower: moves by a small fixed share, so odd frames cannot pull it off. Both
        # legs are held against the same length: which one is called the left does not matter.
        self._leg *= 1.0 + 0.004 * float(np.sign(leg[seen] - self._leg).sum())
        self._shank *= 1.0 + 0.004 * float(np.sign(shank[seen] - self._shank).sum())

    def _shape_cost(self, found: Floats) -> Floats:
        """Cost (2,) of the shank lengths, joined as the model did and the other way."""
        shank = found[:, ANKLE][_WAYS] - found[:, KNEE]
        shank *= shank
        length = np.sqrt(shank[..., 0] + shank[..., 1])
        off = 0.5 * ((length / self._shank - 1.0) / _SHANK_SPREAD) ** 2
        return np.asarray(np.where(np.isfinite(off), np.minimum(off, _COST_CAP), 0.0).sum(axis=-1))


def _parts(state: NDArray[np.intp]) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Return which of `state` exchange the upper and the lower part of the legs."""
    return (state & 2) > 0, (state & 1) > 0
