"""A simulated runner who does more than run: stays away, stands, drifts back, raises a hand.

What the body does is told from outside (`act`, `drift`, `raise_hand`), as a person decides; the
truth of the steps stays the running gait's own.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Literal

import numpy as np

from station.simulate.arms import STRETCHED, ArmSwing, with_arm_swing, with_raised_hand
from station.simulate.figure import Arm, Figure, Leg
from station.simulate.foot import Shoe, foot_points, leg_to, point_of
from station.simulate.gait import Runner
from station.simulate.parameters import Body
from station.simulate.upper import upper_body
from station.values import Floats, Heard, Side, TrueStep

Act = Literal["away", "stand", "run"]
AWAY_M = 50.0
"""So far off is out of every picture."""
RAISE_S = 0.4
"""Time in which a hand goes up or comes down."""
_SIDES: tuple[Side, Side] = ("left", "right")


class StagedRunner:
    """Stands behind the same seam as a running runner. `act` and the like from any thread."""

    def __init__(self, make_runner: Callable[[], Runner], body: Body | None = None) -> None:
        """Begin away from the bay.

        Args:
            make_runner: Makes the running gait anew each time that running begins.
            body: Of the standing figure; None: of ordinary height.
        """
        self._make_runner = make_runner
        self._body = body or Body()
        self._lock = threading.Lock()
        self._wish: Act = "away"
        self._act: Act = "away"
        self._runner: Runner | None = None
        self._began_s = 0.0
        self._past: list[TrueStep] = []
        self._travel_m = 0.0
        self._drift_mps = 0.0
        self._place_m = 0.0
        self._hand: Side | None = None
        self._raised = 0.0
        self._raised_side: Side = "left"
        self._way = STRETCHED
        self._swing: ArmSwing | None = None
        self._asked_s = 0.0
        self._reach_m = 0.0
        self._above_s: float | None = None

    # --- told from outside ----------------------------------------------------------------------

    def act(self, what: Act) -> None:
        """Do this from the next picture on; it begins in the belt's middle."""
        with self._lock:
            self._wish = what

    def drift(self, mps: float) -> None:
        """Move along the belt at this speed from now on, positive ahead."""
        with self._lock:
            self._drift_mps = mps

    def raise_hand(self, side: Side | None, way: tuple[Floats, Floats] | None = None) -> None:
        """Raise one hand above the head, or take it down (None).

        Args:
            side: Whose hand; None: down.
            way: How, of `station.simulate.arms`; None: stretched.
        """
        with self._lock:
            self._hand = side
            if side is not None:
                self._way = way or STRETCHED

    def swing_arms(self, swing: ArmSwing | None) -> None:
        """Carry the arms another way while running; None: as the gait has them."""
        with self._lock:
            self._swing = swing

    def hear(self, event: Heard) -> None:
        """Pass a beat or cue on to who runs."""
        if self._runner is not None:
            self._runner.hear(replace(event, t_s=event.t_s - self._began_s))

    def set_belt(self, speed_mps: float) -> None:
        """Run on a belt that is set to another speed from now on; standing, nothing happens."""
        if self._runner is not None:
            self._runner.set_belt(speed_mps)

    def hop(self, rounds: Sequence[int], first_foot: Side) -> None:
        """Hop by rounds from now on; standing, nothing happens."""
        if self._runner is not None:
            self._runner.hop(rounds, first_foot)

    # --- as the source asks ---------------------------------------------------------------------

    def figure_at(self, t_s: float) -> Figure:
        """Return the body at `t_s`; asked in order of time."""
        with self._lock:
            wish, drift_mps, hand = self._wish, self._drift_mps, self._hand
            swing, way = self._swing, self._way
        elapsed_s, self._asked_s = t_s - self._asked_s, t_s
        if wish != self._act:
            self._change(wish, t_s)
        self._place_m += drift_mps * elapsed_s
        if hand is not None:
            self._raised_side = hand
        step = elapsed_s / RAISE_S
        self._raised = min(1.0, max(0.0, self._raised + (step if hand else -step)))
        figure = self._figure(t_s)
        if swing is not None and self._runner is not None:
            figure = with_arm_swing(figure, swing)
        if self._raised > 0.0:
            figure = with_raised_hand(figure, self._raised_side, self._raised, way)
        above = any(arm.wrist[1] > figure.head[1] for arm in figure.arms.values())
        if not above:
            self._above_s = None
        elif self._above_s is None:
            self._above_s = t_s
        away_m = -AWAY_M if self._act == "away" else 0.0
        return moved(figure, self._place_m + away_m)

    def truth(self) -> tuple[TrueStep, ...]:
        """Return the true steps of all running so far, session time."""
        return (*self._past, *self._of_runner())

    @property
    def place_m(self) -> float:
        """How far the body has drifted from the belt's middle, metres, positive ahead."""
        return self._place_m

    @property
    def hand_above_s(self) -> float | None:
        """Since when a wrist has been above the head's centre, session seconds; None: none is."""
        return self._above_s

    def leaves_in_s(self, belt_rear_m: float, mps: float) -> float:
        """Return when the rear foot will leave the belt at a drift, seconds from now.

        Args:
            belt_rear_m: How far the belt's rear end is behind its middle, metres.
            mps: Speed of the drift backward.
        """
        return (belt_rear_m + self._place_m - self._reach_m) / mps

    # --- within ---------------------------------------------------------------------------------

    def _change(self, wish: Act, t_s: float) -> None:
        self._past += self._of_runner()
        self._runner = self._make_runner() if wish == "run" else None
        self._act, self._began_s = wish, t_s
        self._place_m = 0.0

    def _of_runner(self) -> list[TrueStep]:
        if self._runner is None:
            return []
        began_s = self._began_s
        return [
            replace(s, t_contact_s=s.t_contact_s + began_s, t_toe_off_s=s.t_toe_off_s + began_s)
            for s in self._runner.truth()
        ]

    def _figure(self, t_s: float) -> Figure:
        if self._runner is None:
            return standing(self._body, t_s)
        figure = self._runner.figure_at(t_s - self._began_s)
        for leg in figure.legs.values():  # the rearmost that a foot on the belt has been
            if leg.on_belt:
                self._reach_m = max(self._reach_m, -float(leg.sole_toe[0]))
        return replace(figure, t_s=t_s)


def standing(body: Body, t_s: float) -> Figure:
    """Return a figure that stands on a still belt, feet a little apart, bay frame."""
    shoe = Shoe.of(body)
    hip = complex(0.0, 0.985 * (body.thigh_m + body.shank_m) + shoe.ankle.imag)
    legs: dict[Side, Leg] = {}
    thighs: dict[Side, float] = {}
    for side, ahead_m in zip(_SIDES, (0.03, -0.03), strict=True):
        ball = complex(ahead_m, 0.0) - shoe.ankle.real
        foot = foot_points(shoe, ball, 0.0, 0.0)
        legs[side], thighs[side] = leg_to(body, hip, foot, on_belt=True)
    upper = upper_body(body, hip, 0.0, thighs)
    shoulder = point_of(upper.shoulder)
    hanging = {
        side: Arm(
            shoulder,
            point_of(upper.shoulder - 1j * body.upper_arm_m),
            point_of(upper.shoulder - 1j * (body.upper_arm_m + body.forearm_m) + 0.03),
        )
        for side in _SIDES
    }
    return Figure(
        t_s, legs, hanging, point_of(upper.head), point_of(upper.nose), body.height_m, 0.0
    )


def moved(figure: Figure, ahead_m: float) -> Figure:
    """Return the figure moved along the belt; the belt itself stays."""
    by = np.array([ahead_m, 0.0])
    legs = {
        side: Leg(
            leg.hip + by, leg.knee + by, leg.ankle + by, leg.heel + by, leg.toe + by,
            leg.sole_heel + by, leg.sole_ball + by, leg.sole_toe + by, leg.on_belt,
        )
        for side, leg in figure.legs.items()
    }  # fmt: skip
    arms = {
        side: Arm(arm.shoulder + by, arm.elbow + by, arm.wrist + by)
        for side, arm in figure.arms.items()
    }
    return replace(figure, legs=legs, arms=arms, head=figure.head + by, nose=figure.nose + by)
