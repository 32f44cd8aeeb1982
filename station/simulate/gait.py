"""The simulated runner: a body at any time, and the exact truth of every step.

Each step is decided whole at one moment: contact `n + 2` at the toe-off of contact `n`, that is as
the leg begins its swing. So the figure at a time never depends on anything heard later.
"""

from __future__ import annotations

import cmath
import math
import threading
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from station.simulate.belt import MovingBelt
from station.simulate.feet import Feet, Way, belt_range_mps
from station.simulate.figure import Arm, Figure, Leg
from station.simulate.foot import FootPoints, Shoe, foot_points, leg_angles, leg_of, point_of
from station.simulate.parameters import Body, GaitParameters, Spread, StepWish
from station.simulate.stance import Stance, plan_stance, stance_angles, turning
from station.simulate.stances import KEPT, Stances
from station.simulate.steps import Adapts, StepDetail, natural_wish, touch_of
from station.simulate.swing import (
    Joints,
    Swing,
    ankle_at,
    carry,
    landing_rates,
    lift_curve,
    plan_swing,
    with_rates,
)
from station.simulate.upper import upper_body
from station.values import Heard, Side, TrueStep, other

FIRST_CONTACT_S = 0.25
CLEARANCE_M = 0.012
LEAST_BEND_RAD = math.radians(5.0)
SLOWING_S = 0.008  # twice this before the touch shows how the foot is slowed


class Runner:
    """A running (or hopping) figure whose truth is exact. Used by one thread, but for `hear`."""

    def __init__(self, parameters: GaitParameters, listening: Adapts | None = None) -> None:
        """Set the runner going; the first contact of a recording comes at about 0.25 s.

        Args:
            parameters: The way of running.
            listening: How it answers beats and cues; None: not at all.
        """
        self.parameters = parameters
        self.body = Body(parameters.height_m)
        self.shoe = Shoe.of(self.body)
        self.belt = MovingBelt(parameters.belt_mps)
        self._rise = math.radians(parameters.belt_rise_deg)
        self._listening = listening
        self._spread = Spread()
        self._lock = threading.Lock()
        phases = np.random.default_rng([parameters.seed, 7]).uniform(0.0, 2.0 * math.pi, 2)
        self._phases = (float(phases[0]), float(phases[1]))
        self._stances = Stances(self.drift_m)
        self._swings: dict[Side, list[Swing]] = {"left": [], "right": []}
        self._details: list[StepDetail] = []
        self._asked_s = -math.inf
        self._feet = Feet()
        self._begin()

    # --- what others ask -------------------------------------------------------------------

    def hear(self, event: Heard) -> None:
        """Take one beat or cue; may be called from another thread."""
        if self._listening is not None:
            with self._lock:
                self._listening.hear(event)

    def change(self, parameters: GaitParameters) -> float:
        """Change the way of running (and the belt) from the next step that is not yet decided.

        Args:
            parameters: The new way; height and incline must stay.

        Returns:
            When the belt will have its new speed, seconds.

        Raises:
            ValueError: Another height or incline.
        """
        now = self.parameters
        if (parameters.height_m, parameters.incline_percent) != (now.height_m, now.incline_percent):
            raise ValueError("height_m and incline_percent stay as the runner began")
        self.parameters = parameters
        return self.belt.change(self._stances.decided_s, parameters.belt_mps)

    def set_belt(self, speed_mps: float) -> None:
        """Run on a belt that is set to another speed, as near to it as this kind of gait can.

        It takes its time to get there; each step that is not yet decided goes by the speed that
        the belt will have when it comes down.
        """
        low, high = belt_range_mps(self.parameters)
        self.belt.change(self._stances.decided_s, min(high, max(low, speed_mps)))

    def hop(self, rounds: Sequence[int], first_foot: Side) -> None:
        """Hop from the next contact that is not yet decided, once the belt is slow enough.

        Args:
            rounds: How many hops on each foot, round by round; empty: no more of them.
            first_foot: The foot that each round begins with.
        """
        self._feet.hop(rounds, first_foot)

    def truth(self) -> tuple[TrueStep, ...]:
        """Return the true steps whose contact has been shown, in order of time."""
        return tuple(detail.step for detail in self.details())

    def details(self) -> tuple[StepDetail, ...]:
        """Return all that is known of the steps whose contact has been shown."""
        return tuple(d for d in self._details if d.step.t_contact_s <= self._asked_s)

    def figure_at(self, t_s: float) -> Figure:
        """Return the figure at `t_s`, which never falls from call to call.

        Raises:
            ValueError: A time before 0 or before the last one asked for.
        """
        if t_s < 0.0 or t_s < self._asked_s:
            raise ValueError(f"asked for {t_s} s after {self._asked_s} s; times may not fall")
        self._asked_s = t_s
        self._decide_until(t_s)
        hip = self._stances.hip_at(t_s)
        turn = cmath.exp(1j * self._rise)
        legs: dict[Side, Leg] = {}
        thighs: dict[Side, float] = {}
        for side in ("left", "right"):
            joints, foot, on_belt = self._leg(side, t_s)
            thighs[side] = joints.thigh
            knee = hip * turn - 1j * self.body.thigh_m * cmath.exp(1j * joints.thigh)
            legs[side] = leg_of(hip * turn, knee, foot.turned(turn), on_belt)
        lean = math.radians(self.parameters.trunk_lean_deg)
        upper = upper_body(self.body, hip * turn, lean, thighs)
        shoulder = point_of(upper.shoulder)
        arms: dict[Side, Arm] = {
            side: Arm(shoulder, point_of(upper.elbows[side]), point_of(upper.wrists[side]))
            for side in ("left", "right")
        }
        return Figure(
            t_s, legs, arms, point_of(upper.head), point_of(upper.nose), self.body.height_m,
            self.belt.travel_m(t_s),
        )  # fmt: skip

    def drift_m(self, t_s: float) -> float:
        """Return the slow wander along the belt, metres."""
        a, b = self._phases
        wander = 0.7 * math.sin(2.0 * math.pi * t_s / 11.0 + a)
        wander += 0.3 * math.sin(2.0 * math.pi * t_s / 4.3 + b)
        return self.parameters.wander_m * wander

    # --- deciding steps --------------------------------------------------------------------

    def _begin(self) -> None:
        """Plan two steps before time 0, so that the run is under way when it is first seen."""
        step_s = 60.0 / self.parameters.rate_spm
        for number in (-1, 0):
            way = Way(self.parameters.side_of(number), self.parameters.kind)
            wish = natural_wish(self.parameters, self._spread, number)
            self._plan(number, FIRST_CONTACT_S - (1 - number) * step_s, wish, way)
        for side in ("left", "right"):
            rest = Joints(0.15, 1.2, -0.2, 0.25)
            self._swings[side].append(carry(rest, -10.0))
        self._decide_until(self._stances.newest_two[0].t_toe_off_s)

    def _decide_until(self, t_s: float) -> None:
        while t_s >= (over := self._stances.newest_two[0]).t_toe_off_s:
            before = self._stances.newest_two[1]
            number = before.touch.number + 1
            wish = natural_wish(self.parameters, self._spread, number)
            soon_s = before.touch.t_contact_s + wish.step_time_s
            way = self._feet.next_way(
                self.parameters, number, before.touch.side, self.belt.speed_mps(soon_s)
            )
            if self._listening is not None and number > 0:
                with self._lock:
                    wish = self._listening.next_step(
                        number, way.side, over.t_toe_off_s, before.touch.t_contact_s, wish
                    )
            soonest_s = before.t_toe_off_s + 0.03
            t_contact_s = max(before.touch.t_contact_s + wish.step_time_s, soonest_s)
            decided = self._plan(number, t_contact_s, way.of(wish, self.parameters), way)
            self._send_legs(over, before, decided)

    def _plan(self, number: int, t_contact_s: float, wish: StepWish, way: Way) -> Stance:
        speed = self.belt.speed_mps(t_contact_s)
        touch = touch_of(
            self.parameters, self._spread, number, way.side, way.kind, t_contact_s, wish, speed
        )
        stance = plan_stance(self.body, self.shoe, self.belt, self._rise, touch, self.drift_m)
        self._stances.add(stance)
        if number > 0:
            self._details.append(self._detail(stance))
        return stance

    def _send_legs(self, over: Stance, coming: Stance, decided: Stance) -> None:
        """At the toe-off of `over`, send each free leg on its way."""
        free, now_s = over.touch.side, over.t_toe_off_s
        joints = self._stance_joints(over, now_s)
        if coming.touch.side == free:
            self._swing(free, joints, now_s, coming)
        elif decided.touch.side == free:
            self._swing(free, joints, now_s, decided)
        else:
            self._swings[free].append(self._clearing(carry(joints, now_s)))
        held = other(free)
        if decided.touch.side == held and coming.touch.side == free:
            self._swing(held, self._swing_joints(held, now_s), now_s, decided)
        for side in self._swings:
            del self._swings[side][:-KEPT]

    def _swing(self, side: Side, start: Joints, start_s: float, landing: Stance) -> None:
        """Plan a swing that clears the belt until the instant of contact."""
        touch = landing.touch
        end_s = touch.t_contact_s
        thigh = touch.shank_rad + touch.flexion_rad
        speed = self.belt.speed_mps(end_s)
        pitch_rate = landing.pitch.at(end_s)[1]
        rates = landing_rates(
            self.body,
            thigh,
            touch.shank_rad,
            self._rise,
            complex(landing.sway.at(end_s)[1], landing.hip_h.at(end_s)[1]),
            -speed + landing.give.rate_at_touch + turning(self.shoe, touch.foot_rad, pitch_rate),
            pitch_rate,
        )
        end = Joints(
            thigh,
            touch.flexion_rad,
            touch.foot_rad + self._rise - touch.shank_rad,
            start.bend,
            rates[0],
            rates[0] - rates[1],
            rates[2] - rates[1],
        )
        bent = 0.0
        swing = plan_swing(start, start_s, end, end_s, speed, bent, landing.give)
        for _ in range(30):
            late = (end_s - share * (end_s - start_s) for share in (0.02, 0.04, 0.06, 0.08, 0.12))
            if all(swing.flexion.value(t_s) > LEAST_BEND_RAD for t_s in late):
                break
            bent += 0.01
            swing = plan_swing(start, start_s, end, end_s, speed, bent, landing.give)
        self._swings[side].append(self._clearing(self._slow_on(swing, landing)))

    def _slow_on(self, swing: Swing, landing: Stance) -> Swing:
        """Let the foot be slowed on the belt as it was before the touch."""
        feet = (self._swing_leg(swing, swing.end_s - k * SLOWING_S)[1] for k in range(3))
        on_heel = landing.touch.foot_rad >= 0.0
        last, middle, first = ((foot.heel if on_heel else foot.ball).real for foot in feet)
        slowing = (2.0 * middle - last - first) / SLOWING_S**2
        slower = landing.slowed(slowing, self.body, self.shoe, self.belt, self.drift_m)
        number = landing.touch.number
        self._stances.change(slower)
        if number > 0:
            self._details[number - 1] = self._detail(slower)
        return replace(swing, give=slower.give)

    def _clearing(self, swing: Swing) -> Swing:
        """Return the swing with the lift that keeps the shoe over the belt between its ends."""
        times_s = np.linspace(swing.start_s, swing.end_s, 81)
        missing_m = np.zeros(81)
        for i in range(1, 80):
            t_s = float(times_s[i])
            room_m = min(CLEARANCE_M, 3.0 * (t_s - swing.start_s) ** 2, 0.25 * (swing.end_s - t_s))
            _, foot = self._swing_leg(swing, t_s)
            missing_m[i] = max(room_m - foot.lowest(), 0.0)
        return replace(swing, lift=lift_curve(times_s, missing_m))

    # --- legs ------------------------------------------------------------------------------

    def _leg(self, side: Side, t_s: float) -> tuple[Joints, FootPoints, bool]:
        stance = self._stances.of(side, t_s)
        if stance is not None:
            foot, pitch, toe = stance.foot(self.shoe, self.belt, t_s)
            thigh, shank, *_ = self._angles(stance, t_s)
            joints = Joints(thigh, thigh - shank, pitch + self._rise - shank, toe - pitch)
            return joints, foot, True
        swings = self._swings[side]
        swing = next((s for s in reversed(swings) if s.start_s <= t_s), swings[0])
        joints, foot = self._swing_leg(swing, t_s)
        return joints, foot, False

    def _swing_leg(self, swing: Swing, t_s: float) -> tuple[Joints, FootPoints]:
        """Return the swinging leg: its curves' joints, bent further where the foot is lifted."""
        hip, joints = self._stances.hip_at(t_s), swing.at(t_s)
        pitch = joints.shank + joints.ankle - self._rise
        ankle = ankle_at(self.body, hip, joints, self._rise)
        lift = 0.0 if swing.lift is None else swing.lift.value(t_s)
        if lift > 0.0:
            ankle += 1j * lift
            thigh, shank = leg_angles(self.body, (ankle - hip) * cmath.exp(1j * self._rise))
            joints = Joints(thigh, thigh - shank, pitch + self._rise - shank, joints.bend)
        offset = swing.give_at(t_s)
        ball = ankle - offset - self.shoe.ankle * cmath.exp(1j * pitch)
        return joints, foot_points(self.shoe, ball, pitch, pitch + joints.bend).given(offset)

    def _angles(self, stance: Stance, t_s: float) -> tuple[float, float, float, float]:
        return stance_angles(stance, self.body, self.shoe, self.belt, self._rise, self.drift_m, t_s)

    def _stance_joints(self, stance: Stance, t_s: float) -> Joints:
        """Return joints and rates at the end of a stance."""

        def row(at_s: float) -> Joints:
            thigh, shank, pitch, toe = self._angles(stance, at_s)
            return Joints(thigh, thigh - shank, pitch + self._rise - shank, toe - pitch)

        return with_rates(row, t_s)

    def _swing_joints(self, side: Side, t_s: float) -> Joints:
        """Return joints and rates of a leg in the air."""
        swing = self._swings[side][-1]
        return with_rates(lambda at_s: self._swing_leg(swing, at_s)[0], t_s)

    def _detail(self, stance: Stance) -> StepDetail:
        touch = stance.touch
        t_s = touch.t_contact_s
        turn = cmath.exp(1j * self._rise)
        foot, _, _ = stance.foot(self.shoe, self.belt, t_s)
        knee = foot.ankle * turn + 1j * self.body.shank_m * cmath.exp(1j * touch.shank_rad)
        loading = self._angles(stance, min(t_s + 0.020, stance.t_toe_off_s))[1]
        step = TrueStep(
            t_s,
            stance.t_toe_off_s,
            touch.side,
            self.body.shank_m * math.sin(touch.shank_rad),
            math.degrees(touch.shank_rad),
        )
        return StepDetail(
            touch.number,
            step,
            math.degrees(touch.foot_rad),
            math.degrees(loading),
            math.degrees(touch.flexion_rad),
            point_of(knee),
            point_of(foot.ankle * turn),
            point_of(foot.heel_mark * turn),
            point_of(foot.toe_mark * turn),
            point_of(self._stances.hip_at(t_s) * turn),
            self.belt.speed_mps(t_s),
        )
