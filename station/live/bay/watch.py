"""Watches the runner of an unattended session: position, a raised hand, nobody in view.

It decides nothing of its own: guard and hand say what they see, and here it becomes what the
session is to do.
"""

from __future__ import annotations

from typing import Literal

import numpy as np

from station.coach.visit.position_guard import PositionGuard
from station.coach.visit.raised_hand import RaisedHand
from station.coach.visit.same_body import SameBody
from station.measure.whereabouts import Whereabouts, whereabouts
from station.values import LANDMARK_INDEX, Observation, Pose, View

WatchWord = Literal["come_forward", "stop_belt", "call_staff", "hand_up", "no_answer", "look_anew"]
"""What the watch asks for; `no_answer`: a runner who paused by hand did not go on; `look_anew`: the
body that is followed is somebody else's."""
_TRUNK = [LANDMARK_INDEX[f"{s}_{p}"] for s in ("left", "right") for p in ("shoulder", "hip")]
LOOK_ANEW_S = 0.4
"""Least time between two requests to look anew."""
HAND_PAUSE_S = 60.0
"""A pause that was asked for by hand ends the session after so long."""


class SessionWatch:
    """Watches one session. Used by the loop's thread."""

    def __init__(self, belt_rear_px: tuple[float, float] | None) -> None:
        """Begin with nobody seen.

        Args:
            belt_rear_px: The belt's rear end in the image, pixels; None: not known.
        """
        self._rear_px = belt_rear_px
        self._guard: PositionGuard | None = None
        self._unplaced = PositionGuard(None)  # for who is gone before the view is known
        self._hand = RaisedHand()
        self._same = SameBody()
        self._anew_s = float("-inf")
        self._hand_since_s: float | None = None

    @property
    def warning(self) -> str | None:
        """Key of the sentence that takes the screen now; None: none does."""
        told = self._active.warning
        if told in ("come_forward", "stop_belt"):
            return told
        return "hand_paused" if self._hand_since_s is not None else None

    @property
    def paused_by_hand(self) -> bool:
        """Whether the runner has asked for a pause and not gone on."""
        return self._hand_since_s is not None

    def take(self, seen: Observation, belt_may_run: bool) -> tuple[WatchWord, ...]:
        """Take one observation.

        Args:
            seen: In order of time.
            belt_may_run: Whether the belt moves as far as the station knows; in doubt it does.

        Returns:
            What begins now.
        """
        words: list[WatchWord] = []
        guard = self._place(seen.view)
        told: WatchWord | None = None
        here = _is_there(seen.pose)
        where = whereabouts(seen.pose, seen.view) if here and seen.view is not None else None
        if where is not None and not self._is_runner(where, belt_may_run):
            here = False
            if seen.t_s - self._anew_s >= LOOK_ANEW_S:
                self._anew_s = seen.t_s
                words.append("look_anew")
        if not here:
            told = guard.unseen(seen.t_s, belt_may_run)
        elif where is not None:
            told = guard.see(where)
        else:
            guard.present(seen.t_s)
        if told is not None:
            words.append(told)
        if here and self._hand.take(seen.pose):
            self._hand_since_s = None if self.paused_by_hand else seen.t_s
            words.append("hand_up")
        if self._hand_since_s is not None and seen.t_s - self._hand_since_s >= HAND_PAUSE_S:
            self._hand_since_s = None
            words.append("no_answer")
        return tuple(words)

    def _is_runner(self, where: Whereabouts, belt_may_run: bool) -> bool:
        """Return whether who is seen is who was seen before; beside a still belt anybody may be."""
        if not belt_may_run:
            self._same.forget()
        return self._same.take(where.hips_x_m, where.t_s)

    @property
    def _active(self) -> PositionGuard:
        return self._guard or self._unplaced

    def _place(self, view: View | None) -> PositionGuard:
        if self._guard is None and view is not None:
            rear_m = None
            if self._rear_px is not None:
                rear_m = float(view.to_bay(np.array(self._rear_px))[0])
            self._guard = PositionGuard(rear_m)
        return self._active


def _is_there(pose: Pose) -> bool:
    """Whether somebody's trunk is in the picture; what the legs do is the measurement's affair."""
    trunk = pose.xy_px[_TRUNK]
    inside = (trunk >= 0.0) & (trunk <= np.array([pose.width, pose.height]))
    return bool(inside.all(axis=1).sum() >= 2)  # NaN is never inside
