"""Contacts of one foot, online: strike, touch, stance, leaving.

All thresholds are shares of the belt's speed in the picture, of the runner's leg length, or
frames, so that they fit any speed, body and camera.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from station.measure.carried_foot import CarriedFoot, carried_foot, flat_foot
from station.measure.history import ANKLE, HEEL, TOE, History
from station.measure.readings import foot_angles, knee_flexions
from station.measure.stance_pool import Stance, StancePool
from station.measure.strike_time import StrikeFit, UsualSlowing, fit_strike, lag_at_contact
from station.values import Floats

BALL_SHARE = 0.72
"""Where the ball of the foot lies between the heel (0) and the tip of the shoe (1)."""
_BEFORE_S = 0.085
"""Frames from this long before a strike show the foot slowing down."""
_CONFIRM_S = 0.045
_CONFIRM_FRAMES = 1.6
"""A strike is told once frames reach this far past it: seconds, frames, whichever is more."""
_FRAMES = 5
_LATEST_S = 0.080
_LATEST_FRAMES = 3.6
"""A verdict is given at most this long after the contact: seconds or frames (120 ms at 30 fps)."""
_GIVE_UP_S = 0.13
_ANKLE_HEIGHT, _HEEL_HEIGHT = 0.10, 0.035
"""Of ankle and heel over the sole, in leg lengths (0.05 and 0.017 of the standing height)."""
_ARM = 0.10
"""How far a foot must have come ahead since its last strike, in leg lengths."""
_REST_S = 0.20
"""No foot strikes twice within this time."""
_LOW = 0.075
"""A striking foot is within this of its usual height in stance, in leg lengths."""
_STANCE_LIMIT_S = 0.55
_SETTLED_S = 0.05
_LIES_S = (0.03, 0.09)
"""After the strike: the sole has come to lie, and the heel has not begun to rise."""
_FLAT_SHARE = 0.45
"""From this long after the strike until this share of the stance the foot lies flat."""


@dataclass(frozen=True, slots=True)
class Contact:
    """One confirmed contact."""

    t_contact_s: float
    t_strike_s: float
    """The strike time that the contact was derived from (see `strike_time`)."""
    t_told_s: float
    """Time of the newest frame used."""
    residual_px: float
    late: bool
    """Frames were missing: told too late for a verdict to be of use (see the design)."""


@dataclass(frozen=True, slots=True)
class Leaving:
    """The end of the stance that began with `contact`; None: the leaving was not seen."""

    contact: Contact
    t_toe_off_s: float | None
    carried: CarriedFoot | None
    """Speed at which the belt carried this foot."""
    flat: Floats
    """(k, 3, 2) ankle, heel, toe while the foot lay flat on the belt, plane pixels."""


class FootContacts:
    """Finds the contacts of one foot (0 left, 1 right) in a history."""

    def __init__(self, side: int) -> None:
        """Begin with the foot in the air."""
        self._side = side
        self.pool = StancePool()
        self._furthest_back = np.inf
        self._armed = False
        self._last_strike_s = -np.inf
        self._open: list[Contact] = []
        self._slowing = UsualSlowing(3)

    def reset(self) -> None:
        """Begin anew after a break: what is pooled is kept."""
        self._furthest_back, self._armed = np.inf, False
        self._open.clear()

    def watch(self, history: History, leg_px: float) -> float:
        """Follow the foot's way ahead in the newest frame; a strike needs one.

        Args:
            history: Frames so far, at least one.
            leg_px: Leg length, plane pixels.

        Returns:
            The foot's place ahead, plane pixels; NaN where a point is missing.
        """
        x_now = float(history.legs[-1, self._side, ANKLE:, 0].sum()) / 3.0
        if math.isfinite(x_now):
            self._furthest_back = min(self._furthest_back, x_now)
            if x_now > self._furthest_back + _ARM * leg_px:
                self._armed = True
        return x_now

    def strike(
        self,
        history: History,
        belt_px_s: float,
        leg_px: float,
        slope: float,
        rest: float | None,
        touch_s: float,
        from_s: float,
    ) -> Contact | None:
        """Look for a contact as of the newest frame.

        Args:
            history: Frames so far.
            belt_px_s: Belt speed, plane pixels per second.
            leg_px: Leg length, plane pixels.
            slope: Belt rise, plane y per x.
            rest: Usual height of a foot in stance over the belt line, or None.
            touch_s: From the strike time to the sole's touch.
            from_s: An earlier contact is none.

        Returns:
            The contact, once, or None.
        """
        t = history.t_s
        now = float(t[-1])
        if len(t) < 5:
            return None
        x_now = self.watch(history, leg_px)
        if not self._armed or now - self._last_strike_s < _REST_S:
            return None
        interval = frame_interval_s(t)
        wait = max(_CONFIRM_S, _CONFIRM_FRAMES * interval)
        window = history.span(now - wait - _BEFORE_S - interval, now)
        if window.stop - window.start < _FRAMES:  # frames lost: reach further back
            window = slice(max(window.stop - _FRAMES, 0), window.stop)
        times = t[window]
        feet = history.legs[window, self._side, ANKLE:]
        if not self._goes_back(times, feet, belt_px_s, now - wait):
            return None
        begin = _slowing_from(times, feet[:, :, 0])
        fit = fit_strike(
            times[begin:],
            sole_places(feet[begin:], leg_px),
            belt_px_s,
            now - wait - 0.06,
            lag_at_contact(belt_px_s, leg_px),
            self._slowing.expected(belt_px_s),
            self._slowing.trust_s4(belt_px_s, leg_px),
        )
        if fit is None:
            return None
        t_contact = fit.t_half_s + touch_s
        if t_contact < max(from_s, float(t[0]) + _BEFORE_S + interval):  # its approach is not seen
            self._disarm(x_now)
            return None
        since = now - t_contact
        if since < wait - 0.5 * interval:
            return None
        if since > _GIVE_UP_S + wait:
            self._disarm(x_now)
            return None
        if not self._plausible(times, feet, fit, belt_px_s, leg_px, slope, rest):
            return None
        self._disarm(x_now)
        self._last_strike_s = fit.t_half_s
        self._slowing.learn(fit, belt_px_s)
        late = now - t_contact > max(_LATEST_S, _LATEST_FRAMES * interval)
        contact = Contact(t_contact, fit.t_half_s, now, fit.residual_px, late)
        self._open.append(contact)
        return contact

    def _disarm(self, x_now: float) -> None:
        self._armed = False
        self._furthest_back = x_now if math.isfinite(x_now) else np.inf

    @staticmethod
    def _goes_back(times: Floats, feet: Floats, belt_px_s: float, from_s: float) -> bool:
        """Whether the foot has lately moved back at over half the belt's speed."""
        late = times >= from_s - 1e-9
        late[-2:] = True  # frames lost: the last two must do
        x, tau = feet[late][:, :, 0], times[late]
        tau = tau - tau.sum() / len(tau)  # asked every frame: `mean` takes twice as long
        ok = np.isfinite(x).all(axis=0)
        if not ok.any():
            return False
        x = x[:, ok]
        along = tau @ (x - x.sum(axis=0) / len(x))
        return bool(along.sum() / len(along) / (tau @ tau) < -0.55 * belt_px_s)

    @staticmethod
    def _plausible(
        times: Floats,
        feet: Floats,
        fit: StrikeFit,
        belt: float,
        leg: float,
        slope: float,
        rest: float | None,
    ) -> bool:
        after = times > fit.t_half_s
        if after.sum() < 1:
            return False
        heights = sole_heights(feet[after], slope)
        low = np.fmin(heights[:, 0], heights[:, 1])
        if not np.isfinite(low).any():
            return False
        if rest is not None and abs(float(np.nanmedian(low)) - rest) > _LOW * leg:
            return False
        # The foot must have come from ahead: slowed from forward motion within the window.
        ran = fit.t_belt_s - fit.t_half_s
        return 0.0 <= ran < 0.12

    def leave(
        self, history: History, belt_px_s: float, leg_px: float, slope: float
    ) -> Leaving | None:
        """Close the open stance once frames reach far enough past its end.

        Args and frames as in `strike`.

        Returns:
            The leaving, once per contact, or None while it is not over.
        """
        if not self._open:
            return None
        contact = self._open[0]
        now = float(history.t_s[-1])
        usual = self.pool.contact_s or 0.30
        begun_swing = self._armed and now - contact.t_strike_s > 0.12
        wait = usual + (0.06 if begun_swing else 0.10)
        if len(self._open) == 1 and now - contact.t_strike_s < min(wait, _STANCE_LIMIT_S):
            return None
        return self.close(history, belt_px_s, leg_px, slope)

    def close(
        self, history: History, belt_px_s: float, leg_px: float, slope: float
    ) -> Leaving | None:
        """Close the oldest open stance with the frames there are."""
        if not self._open:
            return None
        contact = self._open.pop(0)
        t0 = contact.t_strike_s
        until = self._open[0].t_strike_s - 0.03 if self._open else t0 + _STANCE_LIMIT_S
        window = history.span(t0 - 0.09, min(until, t0 + _STANCE_LIMIT_S))
        tau = history.t_s[window] - t0
        feet = history.legs[window, self._side, ANKLE:]
        if len(tau) < 5:
            return Leaving(contact, None, None, feet[:0])
        flat_until = _FLAT_SHARE * (self.pool.contact_s or 0.25)
        carried = (tau > _SETTLED_S) & (tau < max(flat_until, _SETTLED_S + 0.05))
        heights = sole_heights(feet, slope)
        speed = carried_foot(tau, feet, self.pool.contact_s, slope, self.pool.heel_rest)
        flat = flat_foot(tau, feet, self.pool.contact_s)
        toe = feet[:, TOE - ANKLE, 0] + belt_px_s * tau
        middle = toe[carried]
        sole = sole_places(feet, leg_px).mean(axis=1) + belt_px_s * tau
        lies = sole[(tau > _LIES_S[0]) & (tau < _LIES_S[1]) & np.isfinite(sole)]
        if np.isfinite(middle).any() and tau[-1] > 0.18:
            self.pool.add(
                Stance(
                    tau,
                    sole - float(lies.mean()) if len(lies) else np.full(len(tau), np.nan),
                    heights[:, 1],
                    heights[:, 0],
                    toe - float(np.nanmedian(middle)),
                    knee_flexions(history.legs[window, self._side]),
                    foot_angles(history.legs[window, self._side]),
                ),
                leg_px,
                belt_px_s,
            )
        end = self.pool.contact_s
        seen = end is not None and tau[-1] > end
        return Leaving(contact, t0 + end if seen and end is not None else None, speed, flat)


def frame_interval_s(t_s: Floats) -> float:
    """Return the usual time between the last frames, seconds; a lost one does not count."""
    gaps = sorted((t_s[-6:][1:] - t_s[-6:][:-1]).tolist())
    return float(gaps[len(gaps) // 2])


def _slowing_from(times: Floats, x: Floats) -> int:
    """Return the frame from which the foot slows down: one before its fastest way ahead.

    In a hop the foot is brought forward so late that it still gains speed in the window.
    """
    seen = np.where(np.isfinite(x).all(axis=1))[0]
    if len(seen) < 5:
        return 0
    speed = np.diff(x[seen].mean(axis=1)) / np.diff(times[seen])
    return int(seen[min(int(speed.argmax()), len(seen) - 4)])


def sole_places(feet: Floats, leg_px: float) -> Floats:
    """Return (n, 3) where ankle, heel and toe are ahead, as far as the sole below them tells.

    A foot that rolls flat about the place it touches carries its ankle ahead, by the ankle's height
    times the turn, while its sole lies on the belt: that is no running ahead of the foot. Nor is it
    that a foot takes up more room ahead the flatter it lies: its toe runs ahead of a heel that
    stands on the belt, its heel stays behind a ball that does.

    Args:
        feet: (n, 3, 2) ankle, heel, toe; plane pixels.
        leg_px: Leg length, plane pixels.
    """
    along = feet[:, TOE - ANKLE] - feet[:, HEEL - ANKLE]
    length_px = np.hypot(along[:, 0], along[:, 1])
    with np.errstate(invalid="ignore", divide="ignore"):
        rise = along[:, 1] / length_px
    height_px = leg_px * np.array([_ANKLE_HEIGHT, _HEEL_HEIGHT, 0.0])
    # Without a heel or toe there is no pitch: the place is then taken as it is.
    turn: Floats = np.where(np.isfinite(rise), rise, 0.0)
    short_px = np.where(np.isfinite(rise), length_px - np.abs(along[:, 0]), 0.0)
    pivot = np.where(turn > 0.0, 0.0, BALL_SHARE)  # toes up it stands on its heel, else on its ball
    places: Floats = feet[:, :, 0] + turn[:, None] * height_px
    places += short_px[:, None] * (np.array([0.0, 0.0, 1.0]) - pivot[:, None])
    return places


def sole_heights(feet: Floats, slope: float) -> Floats:
    """Return (n, 2) heights of heel and ball over the belt's line through the plane's origin.

    Args:
        feet: (n, 3, 2) ankle, heel, toe; plane pixels.
        slope: Belt rise, plane y per x.
    """
    heel = feet[:, HEEL - ANKLE]
    ball = heel + BALL_SHARE * (feet[:, TOE - ANKLE] - heel)
    return np.stack([heel[:, 1] - slope * heel[:, 0], ball[:, 1] - slope * ball[:, 0]], axis=1)
