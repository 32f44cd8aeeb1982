"""The runner's own way onto and off the belt, pooled over the last stances of one foot.

One stance seen in a few noisy frames does not show when the sole touches, nor when the toe leaves.
A dozen stances laid over each other, each at its own strike time, do: frames fall at different
places in each, so the pool samples the movement finely, and noise averages out. Two instants are
read from it, relative to the strike time of `strike_time`: the sole's touch, and the toe's
leaving (from the knee, which is straightest just after it, or from the foot, which turns fastest
just before it).
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

import numpy as np

from station.measure.local_fit import smooth_lines
from station.measure.strike_time import lag_at_contact
from station.values import Floats

_STANCES = 14
_BANDWIDTH_S = 0.011
_SETTLING = 0.018
"""How far shoe and foot sink after the first touch, in leg lengths (about 15 mm): heel pad, arch
and midsole give way under the first load. A choice of this project between a rigid foot (0) and
15 to 20 mm seen on one real runner's force-plate trial."""
_TOUCH_LIMIT_S = 0.030
_TOUCH_TRUST = 0.15
"""Weight of the touch seen in heights against that seen in the slowing. What a foot lags behind the
belt is known to some 0.2 m/s, which is 4 ms of its slowing; how far a shoe gives is known to some
7 mm, which is 10 ms of its fall: about 1 to 6 by their squares."""
_TOUCH_ODD_S = 0.015
"""Two readings of the touch so far apart show that one is mistaken: heights then count for half."""
_SLOWING_SPAN_S = (-0.040, 0.020)
"""About the strike in which the pooled foot is followed: its slowing changes little in it."""
_SLOWING_LIMIT_S = 0.012
_SLOWING_HALF_KNOWN = 1.0
"""Of so many pooled stances' slowing half is believed."""
_FEWEST_FRAMES = 10
_USUAL_TOUCH_S = 0.0
"""Taken before stances were seen: the strike time is that of the contact, within 2 ms on the real
trial."""
_OWN_TOUCH = 0.5
"""Weight of a foot's own touch against that of both feet, which scatters less."""
_SWINGING_SHARE = 0.5
"""A toe that overtakes the belt by this share of the belt's speed is about to swing."""
_SHORTEST_S = 0.09
"""No stance is shorter."""
_FEW_STANCES = 4
_SURE_STANCES = 3
"""A height learned from one stance may be a mistake, and would refuse all that follows."""
_ENOUGH_FRAMES = 50
"""Fewer frames of stances (two at 60 frames per second) show no toe-off."""
_STEADY = 0.25
"""Weight of the newest reading: contact time changes slowly, its reading scatters."""
_PUSH_S = (0.17, 0.02)
"""The push-off is looked for from so long before to so long after that."""
_PEAK_S = 0.045
"""Frames this near to the straightest knee show its instant."""
_EXTENSION_LAG_S = 0.012
"""The knee is straightest shortly after toe-off: 5 ms by Fellin et al. 2010 (J Sci Med Sport
13:646, peak knee extension against force), 12 ms on one real runner's force-plate trial."""
_EXTENSION_S = (0.010, 0.085)
"""A knee whose straightest instant follows the foot's fastest turn by so much drove the push-off;
otherwise (crouched hops, very short steps) the leg leaves bent and the foot's turn must do."""
_TURN_LAG_S = 0.018
"""The foot turns fastest this long before toe-off (28 ms on the real trial, 12 to 22 ms on
simulated runs and hops, as the pooled and smoothed curve shows it)."""


@dataclass(frozen=True, slots=True, eq=False)
class Stance:
    """One stance, from shortly before the strike to after the toe's leaving."""

    tau_s: Floats
    """(n,) frame times minus the strike time."""
    sole: Floats
    """(n,) the sole's place in the belt's frame, plane pixels; 0 where it has come to lie."""
    ball_h: Floats
    """(n,) height of the ball of the foot over the belt, plane pixels."""
    heel_h: Floats
    toe_drift: Floats
    """(n,) toe's place in the belt's frame, plane pixels, 0 in mid-stance."""
    knee_flexion_deg: Floats
    pitch_deg: Floats
    """(n,) heel to toe against the horizontal, toes up positive."""


class StancePool:
    """The last stances of one foot."""

    def __init__(self) -> None:
        """Begin empty."""
        self._beside: StancePool | None = None
        self._stances: deque[Stance] = deque(maxlen=_STANCES)
        self.touch_after_strike_s = _USUAL_TOUCH_S
        """From the strike time to the sole's touch (negative: before)."""
        self.contact_s: float | None = None
        """From the strike time to the toe's leaving."""
        self.ball_rest: float | None = None
        """Height of the ball of the foot over the belt line in stance, plane pixels."""
        self.heel_rest: float | None = None

    def lean_on(self, beside: StancePool) -> None:
        """Take stances of the other foot, too, as long as there are few of this one."""
        self._beside = beside

    def __len__(self) -> int:
        """Return how many stances are pooled."""
        return len(self._stances)

    def clear(self) -> None:
        """Forget the stances (another belt speed); the rest heights stay as they are."""
        self._stances.clear()
        self.touch_after_strike_s, self.contact_s = _USUAL_TOUCH_S, None

    def add(self, stance: Stance, leg_px: float, belt_px_s: float) -> None:
        """Pool one more stance and read the two instants anew.

        Args:
            stance: The stance, complete to at least 0.05 s after the toe's leaving.
            leg_px: Thigh plus shank, plane pixels.
            belt_px_s: Belt speed, plane pixels per second.
        """
        self._stances.append(stance)
        tau = np.concatenate([s.tau_s for s in self._stances])
        ball = np.concatenate([s.ball_h for s in self._stances])
        heel = np.concatenate([s.heel_h for s in self._stances])
        by_slowing_s = self._read_slowing(lag_at_contact(belt_px_s, leg_px))
        self._read_touch(tau, ball, heel, leg_px, by_slowing_s)
        self._read_leaving(belt_px_s)

    def _read_slowing(self, lag_px_s: float) -> float:
        """Return when the feet usually had the speed of contact, seconds after the strike time.

        A strike is timed as if its foot were slowed evenly. The stances of both feet laid over each
        other show how it was slowed.
        """
        stances = list(self._stances)
        if self._beside is not None:
            stances += self._beside._stances
        tau = np.concatenate([s.tau_s for s in stances])
        place = np.concatenate([s.sole for s in stances])
        near = (tau > _SLOWING_SPAN_S[0]) & (tau < _SLOWING_SPAN_S[1]) & np.isfinite(place)
        if near.sum() < _FEWEST_FRAMES:
            return 0.0
        bend, speed, _ = np.polyfit(tau[near], place[near], 2)
        if bend >= 0.0:
            return 0.0
        at_s = float(
            np.clip((lag_px_s - speed) / (2.0 * bend), -_SLOWING_LIMIT_S, _SLOWING_LIMIT_S)
        )
        return at_s * len(stances) / (len(stances) + _SLOWING_HALF_KNOWN)

    def _read_touch(
        self, tau: Floats, ball: Floats, heel: Floats, leg_px: float, by_slowing_s: float
    ) -> None:
        by_height_s = self._by_height(tau, ball, heel, leg_px)
        now_s = by_slowing_s
        if by_height_s is not None:
            apart_s = by_height_s - by_slowing_s
            known = len(self._stances) / (len(self._stances) + 0.5)
            odd = 1.0 + (apart_s / _TOUCH_ODD_S) ** 2
            now_s += known * _TOUCH_TRUST / odd * apart_s
        # A touch that jumps from reading to reading would look like an uneven step rate.
        gain = max(_STEADY, 1.0 / len(self._stances))
        self.touch_after_strike_s += gain * (now_s - self.touch_after_strike_s)

    def _by_height(self, tau: Floats, ball: Floats, heel: Floats, leg_px: float) -> float | None:
        """Return the touch that heights show, seconds after the strike time, and learn rests."""
        rest = ball[(tau > 0.05) & (tau < 0.12) & np.isfinite(ball)]
        if len(rest) < 2:
            return None
        self.ball_rest = float(np.median(rest))
        settle = np.arange(0.03, 0.2, 0.01)
        low, _ = smooth_lines(tau, heel, settle, _BANDWIDTH_S)
        if np.isfinite(low).any():
            self.heel_rest = float(np.nanmin(low))
        grid = np.arange(-0.06, 0.05, 0.0025)
        ball_h, _ = smooth_lines(tau, ball, grid, _BANDWIDTH_S)
        heel_h, _ = smooth_lines(tau, heel, grid, _BANDWIDTH_S)
        gap = ball_h - self.ball_rest
        if self.heel_rest is not None:
            gap = np.fmin(gap, heel_h - self.heel_rest)
        gap = gap - _SETTLING * leg_px
        above = np.where(np.isfinite(gap) & (gap > 0.0))[0]
        if not len(above) or above[-1] == len(grid) - 1:
            return None
        i = above[-1]
        if not np.isfinite(gap[i + 1]):
            return None
        touch = grid[i] + 0.0025 * gap[i] / (gap[i] - gap[i + 1])
        return float(np.clip(touch, -_TOUCH_LIMIT_S, _TOUCH_LIMIT_S))

    def _read_leaving(self, belt_px_s: float) -> None:
        stances = list(self._stances)
        if self._beside is not None and len(stances) < _FEW_STANCES:
            stances += list(self._beside._stances)[len(stances) - _FEW_STANCES :]
        tau = np.concatenate([s.tau_s for s in stances])
        flexion = np.concatenate([s.knee_flexion_deg for s in stances])
        drift = np.concatenate([s.toe_drift for s in stances])
        pitch = np.concatenate([s.pitch_deg for s in stances])
        if np.isfinite(pitch).sum() < _ENOUGH_FRAMES:
            return
        end = max(float(s.tau_s[-1]) for s in stances) - 0.02
        grid = np.arange(_SHORTEST_S, end, 0.004)
        if len(grid) < 5:
            return
        # In swing the foot overtakes the belt for good; before that it pushes off.
        _, rate = smooth_lines(tau, drift, grid, 2.0 * _BANDWIDTH_S)
        swinging = np.where(rate > _SWINGING_SHARE * belt_px_s)[0]
        if not len(swinging):
            return
        going_s = float(grid[swinging[0]])
        push = grid[(grid > going_s - _PUSH_S[0]) & (grid < going_s + _PUSH_S[1])]
        if len(push) < 5:
            return
        _, turn = smooth_lines(tau, pitch, push, 2.0 * _BANDWIDTH_S)
        turned_s = _first_low(push, turn)
        bend, _ = smooth_lines(tau, flexion, push, 1.5 * _BANDWIDTH_S)
        straight_s = self._straightest(tau, flexion, push, bend)
        if straight_s is not None:
            lag_s = straight_s - turned_s if turned_s is not None else None
            if lag_s is not None and not _EXTENSION_S[0] < lag_s < _EXTENSION_S[1]:
                straight_s = None
        told = []
        if straight_s is not None:
            told.append((straight_s - _EXTENSION_LAG_S, 0.67))
        if turned_s is not None:
            told.append((turned_s + _TURN_LAG_S, 0.33))
        if told and min(t for t, _ in told) > _SHORTEST_S:
            now_s = sum(t * w for t, w in told) / sum(w for _, w in told)
            before_s = now_s if self.contact_s is None else self.contact_s
            gain = max(_STEADY, 1.0 / len(self._stances))
            self.contact_s = before_s + gain * (now_s - before_s)

    @staticmethod
    def _straightest(tau: Floats, flexion: Floats, push: Floats, bend: Floats) -> float | None:
        """When the pooled knee is straightest in the push-off; None at its edges."""
        if not np.isfinite(bend).any():
            return None
        i = int(np.nanargmin(bend))
        if not 0 < i < len(bend) - 1:
            return None
        straight_s = float(push[i])
        near = np.isfinite(flexion) & (np.abs(tau - straight_s) < _PEAK_S)
        if near.sum() >= 4:
            curve = np.polyfit(tau[near] - straight_s, flexion[near], 2)
            if curve[0] > 0.0:
                straight_s += float(np.clip(-0.5 * curve[1] / curve[0], -0.02, 0.02))
        return straight_s


def shared_touch_s(own: StancePool, other: StancePool) -> float:
    """Return the time from strike to touch to use for one foot, seconds.

    A foot's pool reads the touch to some 10 ms; two feet of one runner differ less than that.
    """
    stances = len(own) + len(other)
    if not stances:
        return _USUAL_TOUCH_S
    both = own.touch_after_strike_s * len(own) + other.touch_after_strike_s * len(other)
    return _OWN_TOUCH * own.touch_after_strike_s + (1.0 - _OWN_TOUCH) * both / stances


def shared_rest(*pools: StancePool) -> float | None:
    """Return the usual height of the lower of heel and ball in stance, of all feet with enough.

    Returns:
        Plane pixels over the belt line; None: no foot has the stances that it takes.
    """
    levels = [
        min(h for h in (pool.heel_rest, pool.ball_rest) if h is not None)
        for pool in pools
        if pool.ball_rest is not None and len(pool) >= _SURE_STANCES
    ]
    return sum(levels) / len(levels) if levels else None


def _first_low(at: Floats, values: Floats) -> float | None:
    """Where `values` first has a low that is no ripple (over 0.8 of the lowest); None: nowhere."""
    if not np.isfinite(values).any():
        return None
    lowest = float(np.nanmin(values))
    for i in range(1, len(values) - 1):
        a, b, c = values[i - 1 : i + 2].tolist()
        if b <= a and b < c and b < 0.8 * lowest:
            bend = a - 2.0 * b + c
            return float(at[i] + (0.5 * (a - c) / bend if bend > 0.0 else 0.0) * (at[1] - at[0]))
    return None
