"""Leg identity: which of the two leg chains in a frame is the runner's left, which the right.

A pose model finds both legs but mixes them up in bursts, sometimes only below the knee. Two
tracks follow the chains by motion (each point's predicted place against where it is found, both
ways round, shank lengths kept). The tracks are then *named* by evidence that builds up over time:
the model's own names are right more often than not. A wrong name at the start, or after the legs
were lost, is outvoted within about a stride.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from station.measure.history import ANKLE, HIP, KNEE, LEG_POINTS, SIDES
from station.values import Floats

_NOISE = 0.012
"""Usual scatter of a tracked point, in leg lengths (about 1 cm)."""
_FIRST_SPEED = 3.0
"""Usual speed of a point that is seen for the first time, leg lengths per s."""
_ACCELERATION = 35.0
"""Usual size of a foot's acceleration, leg lengths per s^2 (about 30 m/s^2)."""
_LOST_S = 0.25
"""A point unseen for longer than this is begun anew where it is found."""
_REFIND_S = 0.10
"""A point found far off its prediction for this long is believed."""
_ONE_PLACE = 0.15
"""Feet nearer than this, in leg lengths, that should be well apart, have collapsed onto one."""
_SHANK_CHANGE = 0.25
"""A shank in the side view keeps its length within this share."""
_NAME_WEIGHT = 1.7
"""Log odds of one frame's names: the model is right in about 85 of 100 frames."""
_NAME_CAP = 12.0
"""Evidence kept at most: about 14 frames' worth, so that a wrong name is mended in a stride."""
_SURE = 3.0
"""Evidence of two clear frames more for one naming than for the other."""
_SURE_S = 0.15
"""Legs followed for less than this may still be mixed up: a crossing lasts about as long."""
_COST_CAP = 16.0
"""No single point may outvote the rest of the leg."""
_SPLIT_COST = 6.0
"""Log odds against a swap of only the part below the knee."""


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
        self._place = np.full((SIDES, LEG_POINTS, 2), np.nan)
        self._speed = np.zeros((SIDES, LEG_POINTS, 2))
        self._variance = np.zeros((3, SIDES, LEG_POINTS))  # place, place-speed, speed
        self._seen_s = np.full((SIDES, LEG_POINTS), -np.inf)
        self._far_since_s = np.full((SIDES, LEG_POINTS), np.inf)
        self._shank: float = float("nan")
        self._leg: float = float("nan")
        self._begun_s = np.inf
        self._evidence = 0.0  # log odds that track 0 is the left leg

    @property
    def leg_px(self) -> float:
        """Thigh plus shank in pixels, a slow mean; NaN before the first legs."""
        return self._leg

    @property
    def sure(self) -> bool:
        """Whether the evidence for the legs' names outweighs a burst of swapped frames."""
        followed_s = float(self._seen_s.max()) - self._begun_s
        return abs(self._evidence) > _SURE and followed_s > _SURE_S

    @property
    def shank_px(self) -> float:
        """Knee to ankle in pixels, a slow mean."""
        return self._shank

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
        if t_s - self._seen_s.max() > _LOST_S:
            return self._begin(t_s, found)
        step = np.where(np.isfinite(self._seen_s), t_s - self._seen_s, 1.0)
        predicted = self._place + self._speed * np.minimum(step, 0.1)[..., None]
        ahead = self._predict_variance(step)
        spread = np.sqrt(ahead[0] + (_NOISE * self._leg) ** 2)
        straight_names = np.tanh(self._evidence / 4.0) * _NAME_WEIGHT
        # Upper part (hip, knee) and lower part (ankle down) may be swapped apart.
        cost = np.zeros((2, 2))  # [part, crossed]
        for crossed in (0, 1):
            seen = found[::-1] if crossed else found
            distance = np.sum((seen - predicted) ** 2, axis=-1) / spread**2
            distance = np.where(np.isfinite(distance), np.minimum(distance, _COST_CAP), 0.0)
            cost[0, crossed] = 0.5 * float(distance[:, KNEE].sum() + 0.2 * distance[:, HIP].sum())
            cost[1, crossed] = 0.5 * float(distance[:, ANKLE:].sum()) * 2.0 / 3.0
        total = cost[0][:, None] + cost[1][None, :]  # [upper crossed, lower crossed]
        total = total + np.array([[0.0, _SPLIT_COST], [_SPLIT_COST, 0.0]])
        total[1] += straight_names * 0.4
        total[:, 1] += straight_names * 0.6
        total += self._shape_cost(found)
        upper_crossed, lower_crossed = divmod(int(total.argmin()), 2)
        chains = found.copy()
        if upper_crossed:
            chains[:, : KNEE + 1] = found[::-1, : KNEE + 1]
        if lower_crossed:
            chains[:, ANKLE:] = found[::-1, ANKLE:]
        collapsed = self._gate(t_s, chains, predicted, spread)
        self._follow(t_s, chains, predicted, ahead)
        if not collapsed:
            self._evidence += _NAME_WEIGHT * (0.4 - 0.8 * upper_crossed) * 0.5
            self._evidence += _NAME_WEIGHT * (0.6 - 1.2 * lower_crossed) * 0.5
            self._evidence = float(np.clip(self._evidence, -_NAME_CAP, _NAME_CAP))
        named = chains if self._evidence >= 0.0 else chains[::-1]
        return NamedLegs(named.copy(), bool(lower_crossed) == (self._evidence >= 0.0), collapsed)

    def forget(self) -> None:
        """Drop the tracks (somebody left the picture); sizes are kept."""
        self._seen_s[:] = -np.inf
        self._evidence = 0.0

    def _begin(self, t_s: float, found: Floats) -> NamedLegs:
        self._evidence = 0.0
        self._begun_s = t_s
        known = np.isfinite(found).all(axis=-1)
        self._start(np.ones_like(known), found)
        self._seen_s = np.where(known, t_s, -np.inf)
        self._far_since_s[:] = np.inf
        return NamedLegs(found.copy(), False, False)

    def _learn_sizes(self, found: Floats) -> None:
        thigh = np.linalg.norm(found[:, KNEE] - found[:, HIP], axis=-1)
        shank = np.linalg.norm(found[:, ANKLE] - found[:, KNEE], axis=-1)
        leg = thigh + shank
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
        """Cost (2, 2) of the shank lengths that each way of joining the parts gives."""
        cost = np.zeros((2, 2))
        for mixed in (0, 1):
            ankles = found[::-1, ANKLE] if mixed else found[:, ANKLE]
            off = (np.linalg.norm(ankles - found[:, KNEE], axis=-1) / self._shank - 1.0) / 0.12
            off = np.where(np.isfinite(off), np.minimum(off**2, _COST_CAP), 0.0)
            value = 0.5 * float(off.sum())
            cost[0, mixed] = cost[1, 1 - mixed] = value
        return cost

    def _gate(self, t_s: float, chains: Floats, predicted: Floats, spread: Floats) -> bool:
        """Blank points that cannot be where they were found; say whether the legs collapsed."""
        off = np.linalg.norm(chains - predicted, axis=-1)
        limit = 0.06 * self._leg + 4.0 * spread
        far = off > limit  # NaN compares False
        # A foot that has moved as a whole, its shank kept, has moved: a hop's foot is faster than
        # any prediction. What strays from its own foot is an odd point.
        moved = chains[:, ANKLE:] - predicted[:, ANKLE:]
        whole = np.sort(moved, axis=1)[:, 1:2]  # the middle one of three
        together = (
            np.linalg.norm(moved - whole, axis=-1) < 0.06 * self._leg + 2.0 * spread[:, ANKLE:]
        )
        shank = np.linalg.norm(chains[:, ANKLE] - chains[:, KNEE], axis=-1)
        kept = np.abs(shank / self._shank - 1.0) < _SHANK_CHANGE
        apart = np.linalg.norm(chains[0, ANKLE:] - chains[1, ANKLE:], axis=-1)
        should = np.linalg.norm(predicted[0, ANKLE:] - predicted[1, ANKLE:], axis=-1)
        close = apart < _ONE_PLACE * self._leg
        collapsed = bool(np.sum(close & (should > 0.25 * self._leg)) >= 2)
        self._far_since_s = np.where(far, np.minimum(self._far_since_s, t_s), np.inf)
        believed = t_s - self._far_since_s >= _REFIND_S
        # Both feet astray at once is the model's doing, not the runner's.
        alone = ~far[::-1, ANKLE:].any(axis=1)
        believed[:, ANKLE:] |= together & (kept & alone)[:, None]
        if collapsed:
            believed[:, ANKLE:] = False
        chains[far & ~believed] = np.nan
        return collapsed

    def _predict_variance(self, step: Floats) -> Floats:
        """Carry the variances (3, 2, 5) forward by `step` seconds of unknown acceleration."""
        place, both, speed = self._variance
        jolt = (_ACCELERATION * self._leg) ** 2
        return np.stack(
            [
                place + 2.0 * step * both + step**2 * speed + 0.25 * step**4 * jolt,
                both + step * speed + 0.5 * step**3 * jolt,
                speed + step**2 * jolt,
            ]
        )

    def _follow(self, t_s: float, chains: Floats, predicted: Floats, ahead: Floats) -> None:
        """Take the points found into the tracks (a Kalman step per point)."""
        known = np.isfinite(chains).all(axis=-1)
        fresh = known & (t_s - self._seen_s > _LOST_S)
        steady = known & ~fresh
        noise = (_NOISE * self._leg) ** 2
        gain_place = ahead[0] / (ahead[0] + noise)
        gain_speed = ahead[1] / (ahead[0] + noise)
        off = np.where(steady[..., None], chains - predicted, 0.0)
        # A point not found keeps the state and the time it was last seen at.
        self._place = np.where(
            steady[..., None], predicted + gain_place[..., None] * off, self._place
        )
        self._speed = self._speed + gain_speed[..., None] * off
        updated = np.stack(
            [
                ahead[0] * (1.0 - gain_place),
                ahead[1] * (1.0 - gain_place),
                ahead[2] - gain_speed * ahead[1],
            ]
        )
        self._variance = np.where(steady, updated, self._variance)
        self._start(fresh, chains)
        self._seen_s = np.where(known, t_s, self._seen_s)

    def _start(self, fresh: NDArray[np.bool_], chains: Floats) -> None:
        """Begin points anew where they were found, their speed unknown."""
        self._place = np.where(fresh[..., None], chains, self._place)
        self._speed = np.where(fresh[..., None], 0.0, self._speed)
        first = np.array([(_NOISE * self._leg) ** 2, 0.0, (_FIRST_SPEED * self._leg) ** 2])
        self._variance = np.where(fresh, first[:, None, None], self._variance)
