"""Running or walking, told by how long both feet are on the belt together.

In running one foot has left, or is just leaving, when the other comes down; in walking both stay
down for a lasting part of the stance. That is measured here by itself: as a foot comes down, the
other one's toe is followed as the belt carries it back. The contacts' own toe-off is no help, for
a walker's stance is longer than any that a runner has.

A runner without flight bounces like any runner: the hips are highest as one foot takes over from
the other, a walker's are lowest then. Where the bounce is clear, it keeps such a runner from being
called a walker.
"""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass

import numpy as np

from station.measure.cycles import fit_cycle
from station.measure.history import HIP, TOE, History
from station.values import Floats, Gait

WALKING_SHARE = 0.08
"""Both feet down for more of the stance than this is walking: the duty factor is then over 0.54.
Running without flight (grounded running) has a duty factor about one half and stays below. Common
practice, no source."""
_FROM = 0.30
"""From this share of the step on the other foot's leaving is looked for: it lies still then, for a
contact is at least six tenths of the step (measured duty factors 0.33 to 0.39 at 2.5 to 4.5 m/s,
open running data set)."""
_HALF_SPEED = 0.5
"""A toe that goes back at less than this share of the belt's speed has left the belt."""
_GAINS_S = 0.045
"""So long a toe takes from its leaving to that speed: 61 ms (SD 15) on the force-plate trial of a
run at 2.5 m/s that the tests read; less in walking, whose speed is lower (15 ms in plain
kinematics). A choice of this project between them: double support is read 15 ms long in running
and up to 30 ms short in walking, where it lasts 60 to 150."""
_LYING = 0.5
"""Until this share of the step the toe lies on the belt, after `_FROM`."""
_LIFTED = 0.08
"""A toe so far over that, in leg lengths, has left."""
_REACH_S = 0.05
_REACH_FRAMES = 2.05
"""Its speed is read over the frames this far around: seconds or frames, whichever is more."""
_LOOK_S = 0.30
"""So long after a contact the other foot's leaving is looked for."""
_STEP_S = (0.2, 1.2)
_HOP_S = 0.7
"""Two contacts of one foot within this time are a hop: no walker does that."""
_HOPS = 2
"""So many hops one after the other end a walk; a single one may be a contact that was missed, or
legs that were mixed up."""
_FLIGHT_S = 0.02
"""A walk is broken off by clear flights (or bounces) only: legs that pass each other are mixed up
now and then, and a double support that is not seen is no flight."""
_CLEAR_BOUNCE = 0.008
"""A bounce of the hips (to each side of the mean) over this is clear, in leg lengths."""
_RUNNER_TOP = 0.25
"""A runner's hips are highest within this share of the step around the middle of the time between
one foot's leaving and the other's contact; a walker's are lowest."""
_LAST = 5
"""Steps that have a say."""
_CONFIRMED = 3
"""So many of them must agree before a gait is named, or another one."""


@dataclass(frozen=True, slots=True)
class BothDown:
    """How long both feet were on the belt about one contact."""

    t_contact_s: float
    double_support_s: float
    """From this contact to the other foot's leaving; negative: flight."""
    contact_s: float
    """Of the foot that left."""
    bounces: bool = False
    """The hips are highest as one foot takes over: clearly a runner's bounce."""

    @property
    def walking(self) -> bool:
        """Whether this is a walker's step."""
        return self.share > WALKING_SHARE and not self.bounces

    @property
    def running(self) -> bool:
        """Whether this is clearly a runner's step."""
        return not self.walking and (self.bounces or self.double_support_s < -_FLIGHT_S)

    @property
    def share(self) -> float:
        """Double support as a share of the stance."""
        return self.double_support_s / self.contact_s


class GaitKind:
    """Watches the contacts of both feet and names the gait."""

    def __init__(self) -> None:
        """Begin with nothing known."""
        self._contacts: list[tuple[int, float]] = []
        self._votes: deque[bool] = deque(maxlen=_LAST)
        self._gait: Gait = "unknown"
        self._hops = 0

    @property
    def gait(self) -> Gait:
        """What most of the last steps were."""
        return self._gait

    @property
    def walking(self) -> bool:
        """Whether the gait is known to be walking: running's figures then mean nothing."""
        return self._gait == "walking"

    def add(self, side: int, t_contact_s: float) -> None:
        """Take a contact (0 left, 1 right), in order of time."""
        self._contacts.append((side, t_contact_s))

    def break_off(self) -> None:
        """Forget all: what follows has no connection with it."""
        self._contacts.clear()
        self._votes.clear()
        self._gait = "unknown"
        self._hops = 0

    def look(self, history: History, belt_px_s: float, leg_px: float, slope: float) -> None:
        """Judge the contacts that are long enough ago.

        Args:
            history: Frames so far.
            belt_px_s: Belt speed, plane pixels per second.
            leg_px: Leg length, plane pixels.
            slope: Belt rise, plane y per x.
        """
        now_s = float(history.t_s[-1])
        while len(self._contacts) > 1 and now_s >= self._contacts[1][1] + _LOOK_S:
            (other, before_s), (side, t_s) = self._contacts[:2]
            del self._contacts[0]
            if side == other:  # a hop, or a contact was missed
                if t_s - before_s < _HOP_S:
                    self._hopped()
                continue
            self._hops = 0
            both = both_down(history, other, before_s, t_s, belt_px_s, leg_px, slope)
            if both is not None:
                self.vote(both)

    def vote(self, both: BothDown) -> None:
        """Count one contact for walking or for running, and name what is confirmed."""
        if self.walking and not (both.walking or both.running):
            return
        self._votes.append(both.walking)
        walking = sum(self._votes)
        if walking >= _CONFIRMED and self._votes[-1]:
            self._gait = "walking"
        elif len(self._votes) - walking >= _CONFIRMED and not self._votes[-1]:
            self._gait = "running"

    def _hopped(self) -> None:
        """Take nothing before a hop for a walk."""
        self._votes.clear()
        self._hops += 1
        if self._gait == "walking" and self._hops >= _HOPS:
            self._gait = "unknown"


def both_down(
    history: History,
    other: int,
    before_s: float,
    t_contact_s: float,
    belt_px_s: float,
    leg_px: float,
    slope: float,
) -> BothDown | None:
    """Measure how long the other foot stays on the belt after a contact.

    Args:
        history: Frames from that foot's own contact until well after its leaving.
        other: 0 left, 1 right: the foot that was down before.
        before_s: When it came down.
        t_contact_s: The contact of the other foot.
        belt_px_s: Belt speed, plane pixels per second.
        leg_px: Leg length, plane pixels.
        slope: Belt rise, plane y per x.

    Returns:
        None where the foot's leaving is not seen, or the two contacts are no step.
    """
    step_s = t_contact_s - before_s
    if not _STEP_S[0] < step_s < _STEP_S[1]:
        return None
    window = history.span(before_s + _FROM * step_s, t_contact_s + _LOOK_S + 1e-9)
    t = history.t_s[window]
    toe = history.legs[window, other, TOE]
    back = -(toe[:, 0] + slope * toe[:, 1]) / np.hypot(1.0, slope)
    seen = np.isfinite(back)
    t, back = t[seen], back[seen]
    if len(t) < 5:
        return None
    height = toe[seen, 1] - slope * toe[seen, 0]
    lifted_s = _lifted(t, height, before_s + _LYING * step_s, leg_px)
    reach = max(_REACH_S, _REACH_FRAMES * float(np.median(np.diff(t))))
    at, speed = _speeds(t, back, reach)
    ahead = np.where(speed < 0.0)[0]  # it swings: look back from there
    carried = np.where(speed[: ahead[0]] >= _HALF_SPEED * belt_px_s)[0] if len(ahead) else ahead
    if not len(carried):
        return None
    i = int(carried[-1]) + 1
    share = (speed[i - 1] - _HALF_SPEED * belt_px_s) / (speed[i - 1] - speed[i])
    left_s = float(at[i - 1] + share * (at[i] - at[i - 1])) - _GAINS_S
    left_s = min(left_s, lifted_s)  # the last hop of a foot sends it back through the air
    middle_s = 0.5 * (t_contact_s + left_s)
    bounces = _bounces(history, step_s, middle_s, leg_px)
    return BothDown(t_contact_s, left_s - t_contact_s, left_s - before_s, bounces)


def _lifted(t_s: Floats, height: Floats, lies_until_s: float, leg_px: float) -> float:
    """When the toe is clearly over where it lay; infinite: not."""
    lying = height[t_s <= lies_until_s]
    if len(lying) < 2:
        return math.inf
    over = height > float(np.median(lying)) + _LIFTED * leg_px
    held = np.where(over[:-1] & over[1:])[0]  # one odd frame is no lift
    return float(t_s[held[0]]) if len(held) else math.inf


def _bounces(history: History, step_s: float, middle_s: float, leg_px: float) -> bool:
    """Whether the hips are clearly highest about the middle between leaving and contact."""
    window = history.span(middle_s - 0.75 * step_s, middle_s + 0.5 * step_s)
    hips = history.legs[window, :, HIP, 1].mean(axis=1)
    bounce = fit_cycle(history.t_s[window], hips, step_s, middle_s, 2)
    if bounce is None or bounce.first_amplitude < _CLEAR_BOUNCE * leg_px:
        return False
    return abs(bounce.first_peak) < _RUNNER_TOP


def _speeds(t_s: Floats, x: Floats, reach_s: float) -> tuple[Floats, Floats]:
    """Return times and rates of x, each from the samples within `reach_s` on both sides."""
    at, rates = [], []
    for mid in t_s[(t_s >= t_s[0] + 0.9 * reach_s) & (t_s <= t_s[-1] - 0.9 * reach_s)]:
        near = np.abs(t_s - mid) <= reach_s
        tau = t_s[near] - t_s[near].mean()
        if near.sum() >= 3:
            at.append(float(mid))
            rates.append(float(tau @ x[near] / (tau @ tau)))
    return np.array(at), np.array(rates)
