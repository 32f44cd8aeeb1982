"""From a landing to a finished step: what only later frames can show is added here."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from station.measure.contacts import Contact, Leaving
from station.measure.foot_strike import strike_class
from station.measure.heel_touch import heel_down_s, toe_dive
from station.measure.history import ANKLE, HIP, KNEE, History
from station.measure.landing_shape import LandingShape
from station.measure.posture import read_posture
from station.measure.readings import foot_angles, is_a_leg, read_leg, shank_at
from station.measure.rhythm import duty_factor, step_length_m
from station.values import Landing, Step, View

LOADING_S = 0.020
"""Loading response is read this long after contact (the design's definition)."""
_NEXT_S = 0.45
"""A step without a next contact for this long after its toe-off is told without a flight time."""


@dataclass(slots=True)
class _Open:
    """A step on its way; filled in by and by."""

    landing: Landing
    side: int
    contact: Contact
    length_m: float | None
    leaving: Leaving | None = None
    heel_rest: float | None = None


class StepBuilder:
    """Keeps the steps that are not finished, in order, and finishes them."""

    def __init__(self, shape: LandingShape) -> None:
        """Begin with no steps; finished ones go into the landings' common shape."""
        self._shape = shape
        self._open: list[_Open] = []
        self._flat: dict[int, float] = {}

    def foot_to_belt(self, side: int, foot_deg: float | None) -> float | None:
        """Return the foot's angle against lying flat on the belt, degrees.

        Both angles are to the picture's horizontal, so that the belt's rise, the camera's roll and
        the shoe's drop go out of the difference, whatever is known of them.

        Args:
            side: 0 left, 1 right.
            foot_deg: Heel to toe landmark against the horizontal.

        Returns:
            None before one stance has shown how the landmarks lie when the foot is flat.
        """
        if foot_deg is None or side not in self._flat:
            return None
        return foot_deg - self._flat[side]

    def begin(self, landing: Landing, side: int, contact: Contact, belt_mps: float | None) -> None:
        """Open a step.

        Args:
            landing: Of its foot.
            side: 0 left, 1 right.
            contact: Of its foot.
            belt_mps: What the belt ran at until then; None: not known, or being changed.
        """
        length_m = None
        if belt_mps is not None and landing.step_time_s is not None:
            length_m = step_length_m(belt_mps, landing.step_time_s)
        self._open.append(_Open(landing, side, contact, length_m))

    def end(self, leaving: Leaving, side: int, history: History, slope: float,
            heel_rest: float | None) -> None:  # fmt: skip
        """Close a step's stance.

        Args:
            leaving: The end of the stance.
            side: 0 left, 1 right.
            history: Frames so far.
            slope: Belt rise, plane y per x.
            heel_rest: The heel's height in stance over the belt line, plane pixels.
        """
        start = leaving.contact.t_strike_s
        window = history.span(start + 0.06, start + 0.13)
        angles = foot_angles(history.legs[window, side])
        angles = angles[np.isfinite(angles)]
        if len(angles):
            flat = float(np.median(angles))
            before = self._flat.get(side)
            self._flat[side] = flat if before is None else before + 0.2 * (flat - before)
        for step in self._open:
            if step.contact is leaving.contact:
                step.leaving, step.heel_rest = leaving, heel_rest

    def complete(
        self,
        history: History,
        view: View | None,
        slope: float,
        now_s: float,
        walking: bool = False,
    ) -> list[Step]:
        """Return the steps that are finished as of `now_s`, in order.

        Args:
            history: Frames so far.
            view: Scale and belt, None before they are known.
            slope: Belt rise, plane y per x.
            now_s: Time of the newest frame; infinite: finish all.
            walking: The runner walks: of a step only its times and its length are told.
        """
        done: list[Step] = []
        while self._open:
            first = self._open[0]
            following = self._open[1] if len(self._open) > 1 else None
            if first.leaving is None and now_s < math.inf:
                break
            end = first.leaving.t_toe_off_s if first.leaving is not None else None
            since = end if end is not None else first.landing.t_contact_s + 0.3
            if following is None and now_s < since + _NEXT_S:
                break
            done.append(self._finish(first, following, history, view, slope, walking))
            self._open.pop(0)
        return done

    def _finish(
        self,
        step: _Open,
        following: _Open | None,
        history: History,
        view: View | None,
        slope: float,
        walking: bool,
    ) -> Step:
        landing, side = step.landing, step.side
        t0 = landing.t_contact_s
        if walking:
            return Step(
                number=landing.number,
                side=landing.side,
                near=landing.near,
                t_contact_s=t0,
                t_verdict_s=landing.t_verdict_s,
                step_time_s=landing.step_time_s,
                step_length_m=step.length_m,
                shank_at_verdict_deg=landing.shank_deg,
            )
        toe_off = step.leaving.t_toe_off_s if step.leaving is not None else None
        plain = read_leg(history, side, t0)
        reading = self._shape.corrected(plain, history, side, t0)
        if plain.shank is not None and is_a_leg(plain):
            self._shape.add(history, side, t0, plain.shank.value)
        contact_s = toe_off - t0 if toe_off is not None else None
        flight = None
        if toe_off is not None and following is not None:
            flight = following.landing.t_contact_s - toe_off
        duty = None
        if contact_s is not None and flight is not None:
            duty = duty_factor(contact_s, flight)
        shank = reading.shank.value if reading.shank is not None else None
        stance_end = toe_off if toe_off is not None else t0 + 0.25
        foot = self.foot_to_belt(side, reading.foot_deg)
        metres = None if view is None else 1.0 / view.px_per_m
        points = reading.points
        thigh_off = None
        if toe_off is not None:
            thigh_off = read_leg(history, side, toe_off).thigh_deg
        posture = read_posture(history, side, t0, stance_end, landing.step_time_s)
        return Step(
            number=landing.number,
            side=landing.side,
            near=landing.near,
            t_contact_s=t0,
            t_verdict_s=landing.t_verdict_s,
            t_toe_off_s=toe_off,
            step_time_s=landing.step_time_s,
            contact_s=contact_s,
            flight_s=flight,
            duty_factor=duty,
            step_length_m=step.length_m,
            ankle_ahead_m=_scaled(points[ANKLE, 0] - points[KNEE, 0], metres),
            shank_deg=shank,
            shank_at_verdict_deg=landing.shank_deg,
            shank_loading_deg=shank_at(history, side, t0 + LOADING_S),
            ankle_ahead_of_hip_m=_scaled(points[ANKLE, 0] - points[HIP, 0], metres),
            foot_deg=foot,
            strike=strike_class(foot),
            heel_down_s=heel_down_s(history, side, t0, stance_end, slope, step.heel_rest),
            knee_flexion_deg=reading.knee_flexion_deg,
            knee_flexion_peak_deg=posture.knee_flexion_peak_deg,
            trunk_lean_deg=posture.trunk_lean_deg,
            body_lean_deg=posture.body_lean_deg,
            trailing_thigh_deg=None if thigh_off is None else -thigh_off,
            knee_drive_deg=posture.knee_drive_deg,
            vertical_oscillation_m=_scaled(posture.oscillation_px, metres),
            confidence=landing.confidence,
            arm_swing_m=_scaled(posture.arm_swing_px, metres),
            hand_lowest_share=posture.hand_lowest_share,
            hand_highest_share=posture.hand_highest_share,
            shoulder_rotation_hint=posture.shoulder_rotation_hint,
            pelvis_rotation_hint=posture.pelvis_rotation_hint,
            toe_dive=toe_dive(history, side, t0, stance_end, slope),
        )


def _scaled(length_px: float | None, metres: float | None) -> float | None:
    if length_px is None or metres is None or not math.isfinite(length_px):
        return None
    return float(length_px) * metres
