"""From poses to landings and steps, online: the measurement put together."""

from __future__ import annotations

from collections import deque

import numpy as np

from station.measure.belt_pace import BeltPace
from station.measure.contacts import Contact, FootContacts, Leaving
from station.measure.doubt import Doubt
from station.measure.gait_kind import GaitKind
from station.measure.history import ANKLE, KNEE, History
from station.measure.landing_shape import LandingShape
from station.measure.landing_value import landing_of
from station.measure.leg_level import LegLevel
from station.measure.leg_sight import LegSight
from station.measure.leg_tracks import LegTracks
from station.measure.pose_points import LEGS, UPPER, believed, with_legs
from station.measure.readings import UPPER_NAMES, is_a_leg, read_leg
from station.measure.rhythm import step_rate_spm, usual_step_time_s
from station.measure.stance_pool import shared_rest, shared_touch_s
from station.measure.step_builder import StepBuilder
from station.measure.view_checks import ViewChecks
from station.measure.view_learning import ViewLearner
from station.values import Belt, Landing, Observation, Pose, Side, Step, View, ViewProfile

_SIDES: tuple[Side, Side] = ("left", "right")
_SHOULDERS = [UPPER_NAMES.index("left_shoulder"), UPPER_NAMES.index("right_shoulder")]
_MEMORY = 512
"""Frames remembered: over 2 s at 240 frames per second."""
_GAP_S = 0.25
BELT_SETTLES_S = 10.0
"""A belt may take so long to reach a new speed or incline: until then its feet tell no scale."""
_MOST = 0.75
"""A stance seen for this share of its usual time counts, though the stream ended before it did."""
_USUAL_CONTACT_S = 0.25
_IMPOSSIBLE = 4
"""So many landings in a row with legs that no runner has are told."""
_LOST_FOOTING_S = 1.5
_DOUBT_S = 0.06
"""A first contact may lie so long before the legs were named for sure; an earlier one may be seen
in nothing but the legs' mixing up."""


class GaitMeter:
    """Takes one pose after the other and tells landings and steps. One thread.

    Results depend on the poses alone, not on when they are handed over.
    """

    def __init__(self, profile: ViewProfile, belt: Belt | None = None) -> None:
        """Set up for one camera and belt.

        Args:
            profile: What is known of the view; the rest is learned from running.
            belt: What the belt is set to, None where nobody knows.
        """
        self._profile = profile
        self._belt = belt
        self._pace = BeltPace()
        self._tracks = LegTracks()
        self._history = History(_MEMORY, len(UPPER_NAMES))
        self._feet = (FootContacts(0), FootContacts(1))
        for foot, beside in (self._feet, self._feet[::-1]):
            foot.pool.lean_on(beside.pool)
        self._learner: ViewLearner | None = None
        self._checks = ViewChecks(profile.faces, profile.px_per_m is not None)
        self._shape = LandingShape()
        self._builder = StepBuilder(self._shape)
        self._kind = GaitKind()
        self._number = 0
        self._last_seen_s = -np.inf
        self._changed_s = -np.inf
        self._settled = True
        self._being_set = False
        self._sight = LegSight()
        self._last_contact_s: float | None = None
        self._step_times: deque[float] = deque(maxlen=8)
        self._doubt = Doubt()
        self._levels = (LegLevel(), LegLevel())
        self._impossible = 0
        self._collapsed_since_s: float | None = None
        self._known_view: View | None = None
        self._view_is_old = True

    # --- settings -------------------------------------------------------------------------------

    def set_belt(self, belt: Belt) -> None:
        """Tell what the belt is set to from now on."""
        before = self._belt
        self._belt = belt
        if self._learner is not None:
            self._learner.set_incline(belt.incline_percent)
        if belt == before:
            return
        self._view_is_old = True
        self._changed_s = self._last_seen_s
        for level in self._levels:
            level.forget()
        if before is not None and belt.incline_percent != before.incline_percent:
            for foot in self._feet:  # it lies on another line now
                foot.pool.clear()
                foot.pool.ball_rest = foot.pool.heel_rest = None
        if before is not None and belt.speed_mps == before.speed_mps:
            return
        factor = belt.speed_mps / before.speed_mps if before is not None else 1.0
        if self._being_set:  # what was seen lately was seen at the new speed already
            self._pace.move(False)
            factor = 1.0
        self._pace.expect(self._expected_pace(), factor)
        self._shape.clear()
        for foot in self._feet:
            foot.pool.clear()

    def belt_is_being_set(self, on: bool) -> None:
        """Learn whether somebody may be changing the belt's speed now.

        While it is so the feet show the speed, and neither scale nor belt line is learned.
        """
        self._being_set = on
        if on:
            self._changed_s = self._last_seen_s
            self._settled = False
        self._pace.move(on)

    def _forget_belt(self) -> None:
        """Drop what was learned of landings at another belt speed than was believed."""
        self._kind.break_off()
        self._step_times.clear()
        self._shape.clear()
        for foot, level in zip(self._feet, self._levels, strict=True):
            foot.pool.clear()
            level.forget()

    def _belt_mps(self) -> float | None:
        """Return the belt's speed as the feet show it; None where the scale is not known."""
        lately = self._pace.lately_px_s
        if lately is None or self._learner is None:
            return None
        scale = self._scaled_profile.px_per_m or self._learner.learned_px_per_m
        return lately / scale if scale else None

    def _expected_pace(self) -> float | None:
        scale = None
        if self._learner is not None:
            scale = self._scaled_profile.px_per_m or self._learner.learned_px_per_m
        return scale * self._belt.speed_mps if scale and self._belt is not None else None

    # --- the way of a pose ----------------------------------------------------------------------

    def push(self, pose: Pose) -> Observation:
        """Take the next pose.

        Args:
            pose: Landmarks in image pixels; times must grow.

        Returns:
            What is known now; `landings` and `steps` hold what has become known with this pose.
        """
        if self._learner is None:
            self._scaled_profile = self._profile.scaled_to(pose.width, pose.height)
            self._learner = ViewLearner(self._scaled_profile)
            self._learner.set_incline(None if self._belt is None else self._belt.incline_percent)
            self._pace.expect(self._expected_pace())
        self._checks.see_frame(pose.t_s)
        found = believed(pose)
        legs_px = found[LEGS]
        steps: list[Step] = []
        if self._sight.hidden(pose) or not np.isfinite(legs_px[:, ANKLE:]).any():
            self._collapsed_since_s = None
            if pose.t_s - self._last_seen_s > _GAP_S and len(self._history):
                steps += self._break_off()
            trouble = "nobody" if not pose.found else "legs_hidden"
            return self._tell(pose, pose, False, trouble, (), tuple(steps))
        if pose.t_s - self._last_seen_s > _GAP_S and len(self._history):
            steps += self._break_off()
        self._last_seen_s = pose.t_s
        self._learner.see_feet(legs_px)
        plane = self._learner.plane
        if plane is None:
            return self._tell(pose, pose, True, "learning_view", (), tuple(steps))
        named = self._tracks.push(pose.t_s, plane.from_image(legs_px))
        self._history.append(pose.t_s, named.legs, plane.from_image(found[UPPER]))
        shoulders = self._history.upper[-1, _SHOULDERS]
        self._checks.see_body(pose.t_s, named.legs, shoulders, self._tracks.leg_px)
        shown = with_legs(pose, plane.to_image(named.legs))
        self._note_collapse(pose.t_s, named.collapsed)
        if self._checks.faces_other_way:
            return self._tell(pose, shown, True, "facing_wrong", (), tuple(steps))
        slope = self._learner.slope
        if self._pace.px_s is None and not self._pace.boot(self._history, self._tracks.leg_px):
            return self._tell(pose, shown, True, "learning_view", (), tuple(steps))
        landings = self._look_for_contacts(slope, pose.t_s)
        steps += self._look_for_ends(slope, pose.t_s, waiting=bool(landings))
        astray = self._tracks.astray
        why = "legs_hidden" if astray else None
        if self._impossible >= _IMPOSSIBLE:
            why = "impossible_legs"
        return self._tell(pose, shown, not astray, why, landings, tuple(steps))

    def finish(self) -> Observation:
        """Tell the steps whose stance was over, or nearly so, when the stream ended.

        A stance that the end of the stream cuts off earlier is no step: nothing of it could be
        compared.
        """
        usual = [foot.pool.contact_s or _USUAL_CONTACT_S for foot in self._feet]
        seen_until_s = self._last_seen_s
        steps = tuple(
            step
            for step in self._break_off()
            if step.t_toe_off_s is not None
            or seen_until_s - step.t_contact_s >= _MOST * usual[_SIDES.index(step.side)]
        )
        t_s = max(self._last_seen_s, 0.0)
        nobody = Pose.nobody(t_s, 0, 1, 1)
        return self._tell(nobody, nobody, False, None, (), steps)

    # --- parts ----------------------------------------------------------------------------------

    def _note_collapse(self, t_s: float, collapsed: bool) -> None:
        if not collapsed:
            self._collapsed_since_s = None
        elif self._collapsed_since_s is None:
            self._collapsed_since_s = t_s

    def _rest(self, now_s: float) -> float | None:
        """Usual height of a foot in stance, until no contact has been found for a while."""
        if self._last_contact_s is None or now_s - self._last_contact_s > _LOST_FOOTING_S:
            return None
        return shared_rest(*(foot.pool for foot in self._feet))

    def _look_for_contacts(self, slope: float, now_s: float) -> tuple[Landing, ...]:
        pace, leg = self._pace.px_s, self._tracks.leg_px
        assert pace is not None
        if not self._tracks.sure:
            for foot in self._feet:
                foot.watch(self._history, leg)
            return ()
        landings = []
        for side, foot in enumerate(self._feet):
            touch_s = shared_touch_s(foot.pool, self._feet[1 - side].pool)
            from_s = self._tracks.first_sure_s - _DOUBT_S
            rest = self._rest(now_s)
            contact = foot.strike(self._history, pace, leg, slope, rest, touch_s, from_s)
            if contact is not None:
                landings.append(self._land(side, contact))
        return tuple(landings)

    def _land(self, side: int, contact: Contact) -> Landing:
        assert self._learner is not None
        assert self._learner.plane is not None
        plane = self._learner.plane
        self._number += 1
        reading = read_leg(self._history, side, contact.t_contact_s)
        reading = self._shape.corrected(reading, self._history, side, contact.t_contact_s)
        near = _SIDES[side] == plane.faces
        shank = shank_error = None
        self._kind.add(side, contact.t_contact_s)
        walking = self._kind.walking  # then a runner's landing angles mean nothing
        possible = reading.shank is not None and is_a_leg(reading)
        self._impossible = 0 if possible else self._impossible + 1
        # Contacts rest on the belt's speed. Whoever slows it down unasked mostly walks: the gait
        # must be known first.
        unsure = self._pace.doubtful or (self._pace.otherwise and self._kind.gait != "running")
        unsure |= contact.late or walking
        if reading.shank is not None and possible and not unsure:
            shank = reading.shank.value
            shank_error = self._doubt.of_shank(side, near, reading.shank)
        view = self._view()
        ahead = None
        if view is not None and possible and not walking:
            ahead = float(reading.points[ANKLE, 0] - reading.points[KNEE, 0]) / view.px_per_m
        foot_deg = None if walking else self._builder.foot_to_belt(side, reading.foot_deg)
        last = self._last_contact_s
        step_time = contact.t_contact_s - last if last is not None else None
        if step_time is not None and not 0.12 < step_time < 1.2:
            step_time = None
        self._last_contact_s = contact.t_contact_s
        if step_time is not None:
            self._step_times.append(step_time)
        landing = landing_of(
            contact,
            plane.to_image(reading.points),
            number=self._number,
            side=_SIDES[side],
            near=near,
            reading_deg=shank,
            reading_error_deg=shank_error,
            level=self._levels[side],
            ankle_ahead_m=ahead,
            foot_deg=foot_deg,
            step_time_s=step_time,
            visibility=self._sight.visibility,
        )
        # Such a belt, or one that somebody may be changing, runs at none of the speeds told.
        belt = None if self._being_set or self._pace.otherwise else self._belt
        self._builder.begin(landing, side, contact, None if belt is None else belt.speed_mps)
        return landing

    def _look_for_ends(self, slope: float, now_s: float, waiting: bool) -> list[Step]:
        pace, leg = self._pace.px_s, self._tracks.leg_px
        assert pace is not None
        for side, foot in enumerate(self._feet):
            leaving = foot.leave(self._history, pace, leg, slope)
            if leaving is not None:
                self._left_belt(side, leaving)
        self._kind.look(self._history, pace, leg, slope)
        if self._pace.look_again(self._history, leg):
            self._forget_belt()
        # A cue waits for this landing: the step before it is worked out with the next pose.
        return [] if waiting else self._complete(slope, now_s)

    def _complete(self, slope: float, now_s: float) -> list[Step]:
        return self._builder.complete(self._history, self._view(), slope, now_s, self._kind.walking)

    def _left_belt(self, side: int, leaving: Leaving) -> None:
        assert self._learner is not None
        self._view_is_old = True
        settled = leaving.contact.t_contact_s - self._changed_s > BELT_SETTLES_S
        if settled and not self._settled:
            self._pace.forget()  # what it did on its way tells nothing of what it does
        self._settled = settled
        if leaving.carried is not None:
            counted = self._pace.add_stance(leaving.carried)
            sure = counted and settled and not self._pace.otherwise
            if sure and self._belt is not None:
                self._learner.see_speed(leaving.carried, self._belt.speed_mps)
        self._checks.see_belt(self._pace, self._expected_pace(), settled)
        flat = leaving.flat if settled else leaving.flat[:0]
        self._learner.see_stance(side, flat, self._feet[side].pool.heel_rest)
        self._builder.end(
            leaving, side, self._history, self._learner.slope, self._feet[side].pool.heel_rest
        )

    def _break_off(self) -> list[Step]:
        """End the run of steps: nothing after this is counted from what was before."""
        assert self._learner is not None
        pace = self._pace.px_s
        if pace is not None:
            for side, foot in enumerate(self._feet):
                while (
                    leaving := foot.close(
                        self._history, pace, self._tracks.leg_px, self._learner.slope
                    )
                ) is not None:
                    self._left_belt(side, leaving)
        steps = self._complete(self._learner.slope, np.inf)
        self._kind.break_off()
        self._pace.lose_sight()
        for foot, level in zip(self._feet, self._levels, strict=True):
            foot.reset()
            level.forget()
        self._history.clear()
        self._tracks.forget()
        self._last_contact_s = None
        self._step_times.clear()
        return steps

    def _view(self) -> View | None:
        """The view as of the last stance: nothing that it rests on changes between stances."""
        if self._learner is not None and self._view_is_old:
            speed = None if self._belt is None else self._belt.speed_mps
            self._known_view = self._learner.view(self._pace.px_s, speed, self._tracks.leg_px)
            self._view_is_old = self._known_view is None
        return self._known_view

    def _tell(
        self,
        pose: Pose,
        shown: Pose,
        in_view: bool,
        trouble: str | None,
        landings: tuple[Landing, ...],
        steps: tuple[Step, ...],
    ) -> Observation:
        stuck = self._collapsed_since_s is not None and pose.t_s - self._collapsed_since_s > 0.08
        stuck |= trouble == "legs_hidden" and self._tracks.astray
        times = self._step_times
        rate = step_rate_spm(usual_step_time_s(times)) if len(times) >= 3 else None
        return Observation(
            t_s=pose.t_s,
            pose=shown,
            in_view=in_view,
            trouble="walking" if trouble is None and self._kind.walking else trouble,
            landings=landings,
            steps=steps,
            step_rate_spm=rate,
            view=self._view(),
            gait=self._kind.gait,
            detect_anew=stuck,
            notices=self._checks.notices,
            belt_mps=self._belt_mps(),
        )
