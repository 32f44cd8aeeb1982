"""Moving points of two legs, followed in several guesses at once (a Kalman filter per point).

A guess is one way of telling the legs apart. All guesses see the same frame; they differ in which
point found belongs to which leg. Arrays have the guesses as their first axis.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from station.measure.history import ANKLE, KNEE, LEG_POINTS, SIDES
from station.values import Floats

NOISE = 0.012
"""Usual scatter of a tracked point, in leg lengths (about 1 cm)."""
ACCELERATION = 35.0
"""Usual size of a foot's acceleration, leg lengths per s^2 (about 30 m/s^2)."""
LOST_S = 0.25
"""Legs unseen for longer than this are begun anew as the model names them."""
_STALE_S = 0.10
"""After so long unseen a point's speed says nothing any more: a foot turns round in that time."""
_FIRST_SPEED = 3.0
"""Usual speed of a point that is seen for the first time, leg lengths per s."""
_REFIND_S = 0.10
"""A point found far off its prediction for this long is believed."""
_ONE_PLACE = 0.15
"""Feet nearer than this, in leg lengths, that should be well apart, have collapsed onto one."""
_SHANK_CHANGE = 0.25
"""A shank in the side view keeps its length within this share."""


class LegFilter:
    """Place and speed of every point in every guess. Plane pixels; one clock."""

    def __init__(self) -> None:
        """Begin with one guess that knows nothing."""
        shape = (1, SIDES, LEG_POINTS)
        self.place = np.full((*shape, 2), np.nan)
        self.speed = np.zeros((*shape, 2))
        self.variance = np.zeros((3, *shape))
        """Of place, of place and speed together, of speed."""
        self.seen_s = np.full(shape, -np.inf)
        self._far_since_s = np.full(shape, np.inf)

    def begin(self, t_s: float, found: Floats, leg_px: float) -> None:
        """Begin a guess for each of (k, 2, 5, 2) ways to name one frame's legs; speeds unknown."""
        known = known_points(found)
        self.place, self.speed = np.empty_like(found), np.empty_like(found)
        self.variance = np.empty((3, *known.shape))
        self._far_since_s = np.full(known.shape, np.inf)
        self._start(np.ones_like(known), found, leg_px)
        self.seen_s = np.where(known, t_s, -np.inf)

    def forget(self) -> None:
        """Drop all that is known of places."""
        self.seen_s[:] = -np.inf

    def predict(self, t_s: float, leg_px: float) -> tuple[Floats, Floats]:
        """Return where the points should be now, and the variances then.

        Args:
            t_s: The new frame's time.
            leg_px: Thigh plus shank.

        Returns:
            Places (k, 2, 5, 2), NaN where never seen, and variances (3, k, 2, 5).
        """
        step = np.where(np.isfinite(self.seen_s), t_s - self.seen_s, 1.0)
        predicted = self.place + self.speed * np.minimum(step, 0.1)[..., None]
        place, both, speed = self.variance
        jolt = (ACCELERATION * leg_px) ** 2
        ahead = np.empty_like(self.variance)
        ahead[0] = place + 2.0 * step * both + step**2 * speed + 0.25 * step**4 * jolt
        ahead[1] = both + step * speed + 0.5 * step**3 * jolt
        ahead[2] = speed + step**2 * jolt
        return predicted, ahead

    def keep(self, guess: NDArray[np.intp], leg: NDArray[np.intp]) -> None:
        """Go on with some guesses, their tracks exchanged between the legs where asked.

        Args:
            guess: (k, 1, 1) which of the guesses there were.
            leg: (k, 2, 5) which of its legs each point comes from (see `origin`).
        """
        self.place = self.place[guess, leg, POINTS]
        self.speed = self.speed[guess, leg, POINTS]
        self.seen_s = self.seen_s[guess, leg, POINTS]
        self._far_since_s = self._far_since_s[guess, leg, POINTS]
        self.variance = self.variance[:, guess, leg, POINTS]

    def gate(
        self,
        t_s: float,
        chains: Floats,
        predicted: Floats,
        spread: Floats,
        leg_px: float,
        shank_px: float,
    ) -> NDArray[np.bool_]:
        """Blank points that cannot be where they were found.

        Args:
            t_s: The frame's time.
            chains: (k, 2, 5, 2) legs as each guess has them; changed in place.
            predicted: (k, 2, 5, 2), as `predict` says.
            spread: (k, 2, 5) standard deviation of what is found about it.
            leg_px: Thigh plus shank.
            shank_px: Knee to ankle.

        Returns:
            (k,) whether both feet were found on one place although they should be apart.
        """
        off = _length(chains - predicted)
        far = off > 0.06 * leg_px + 4.0 * spread  # NaN compares False
        # A foot that has moved as a whole, its shank kept, has moved: a hop's foot is faster than
        # any prediction. What strays from its own foot is an odd point.
        moved = chains[:, :, ANKLE:] - predicted[:, :, ANKLE:]
        whole = np.sort(moved, axis=2)[:, :, 1:2]  # the middle one of three
        strays = _length(moved - whole)
        together = strays < 0.06 * leg_px + 2.0 * spread[:, :, ANKLE:]
        shank = _length(chains[:, :, ANKLE] - chains[:, :, KNEE])
        kept = np.abs(shank / shank_px - 1.0) < _SHANK_CHANGE
        apart = _length(chains[:, 0, ANKLE:] - chains[:, 1, ANKLE:])
        should = _length(predicted[:, 0, ANKLE:] - predicted[:, 1, ANKLE:])
        least = np.maximum(0.25 * leg_px, apart + 2.0 * spread[:, :, ANKLE:].mean(axis=1))
        close = (apart < _ONE_PLACE * leg_px) & (should > least)
        collapsed: NDArray[np.bool_] = close.sum(axis=1) >= 2
        self._far_since_s = np.where(far, np.minimum(self._far_since_s, t_s), np.inf)
        believed = t_s - self._far_since_s >= _REFIND_S
        # Both feet astray at once is the model's doing, not the runner's.
        alone = ~far[:, ::-1, ANKLE:].any(axis=2)
        believed[:, :, ANKLE:] |= together & (kept & alone)[..., None]
        chains[far & ~believed] = np.nan
        chains[collapsed, :, ANKLE:] = np.nan
        return collapsed

    def follow(
        self, t_s: float, chains: Floats, predicted: Floats, ahead: Floats, leg_px: float
    ) -> None:
        """Take the points found into the guesses; args as in `gate` and from `predict`."""
        known = known_points(chains)
        fresh = known & (t_s - self.seen_s > _STALE_S)
        steady = known & ~fresh
        noise = (NOISE * leg_px) ** 2
        gain_place = ahead[0] / (ahead[0] + noise)
        gain_speed = ahead[1] / (ahead[0] + noise)
        off = np.where(steady[..., None], chains - predicted, 0.0)
        # A point not found keeps the state and the time it was last seen at.
        self.place = np.where(
            steady[..., None], predicted + gain_place[..., None] * off, self.place
        )
        self.speed = self.speed + gain_speed[..., None] * off
        updated = np.empty_like(ahead)
        updated[:2] = ahead[:2] * (1.0 - gain_place)
        updated[2] = ahead[2] - gain_speed * ahead[1]
        self.variance = np.where(steady, updated, self.variance)
        if fresh.any():
            self._start(fresh, chains, leg_px)
        self.seen_s = np.where(known, t_s, self.seen_s)

    def _start(self, fresh: NDArray[np.bool_], chains: Floats, leg_px: float) -> None:
        """Begin points anew where they were found, their speed unknown."""
        self.place = np.where(fresh[..., None], chains, self.place)
        self.speed = np.where(fresh[..., None], 0.0, self.speed)
        first = np.array([(NOISE * leg_px) ** 2, 0.0, (_FIRST_SPEED * leg_px) ** 2])
        self.variance = np.where(fresh, first[:, None, None, None], self.variance)


def origin(upper: NDArray[np.bool_], lower: NDArray[np.bool_]) -> NDArray[np.intp]:
    """Return which leg each point comes from where parts of the two legs are exchanged.

    Args:
        upper: (k,) whether hip and knee change legs.
        lower: (k,) whether ankle, heel and toe do.

    Returns:
        (k, 2, 5) 0 or 1, to index the axis of legs with.
    """
    leg = np.empty((len(upper), SIDES, LEG_POINTS), dtype=np.intp)
    leg[:, 0, :ANKLE] = upper[:, None]
    leg[:, 0, ANKLE:] = lower[:, None]
    leg[:, 1] = 1 - leg[:, 0]
    return leg


POINTS = np.arange(LEG_POINTS)
"""Indexes the axis of points beside what `origin` returns."""


def known_points(points: Floats) -> NDArray[np.bool_]:
    """Return which of points (..., 2) are known: quicker than `all` along an axis."""
    return np.isfinite(points[..., 0] + points[..., 1])


def _length(offset: Floats) -> Floats:
    """Return the lengths of offsets (..., 2): quicker than a norm along an axis."""
    return np.asarray(np.hypot(offset[..., 0], offset[..., 1]))
