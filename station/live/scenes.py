"""Builds the scene: what the screen shows of the session at this instant, as a value."""

from __future__ import annotations

import math
from collections import deque
from dataclasses import replace
from typing import Protocol

from station.coach.figures import CoachFigures
from station.coach.scene import (
    DrillStatus,
    KeyAnswer,
    LandingMark,
    Rhythm,
    Scene,
    Sentence,
    State,
    TrailMark,
)
from station.coach.sentences import state_sentence
from station.coach.summary import beat_summary
from station.live.beats import BeatLog
from station.live.coach_strip import CoachStrip
from station.live.coaching import Coaching
from station.live.marks import Marks, leg_points
from station.live.measured_belt import measured_belt
from station.live.record import Judged
from station.live.stills import StillKeeper
from station.live.told import Told, thinned
from station.values import Frame, Observation, Side, StepRecord, Verdict, View, other

_WELL_SEEN = ("walking", "second_person")
"""Troubles in which the runner is seen well, and is not judged all the same."""
TRAIL_MARKS = 24
"""Last landings of both feet together; the strip shows ten of each."""
MARK_FRESH_S = 1.0
OFFSET_STEPS = 12
"""Steps that the shown offset from the beat is the mean of."""
RATE_FRESH_S = 2.0
"""A step rate without a newer landing is no longer the runner's."""
TROUBLE_AFTER_S = 0.5
"""A trouble shorter than this is not worth a runner's look."""
_LEARNING = "learning"


class Controls(Protocol):
    """What a scene needs of the coach's keys."""

    @property
    def coach_strip(self) -> bool:
        """Whether the coach's strip is to be shown."""
        ...

    @property
    def typed(self) -> int | None:
        """A digit that waits for a second one."""
        ...

    def answer(self, t_s: float) -> KeyAnswer | None:
        """Return what the last key did, or why it did nothing."""
        ...

    def still_wanted(self, t_s: float) -> bool:
        """Whether the last landing is to be shown, frozen."""
        ...


class SceneBuilder:
    """Keeps what a screen needs of the past. Used by the loop's thread."""

    def __init__(self, coaching: Coaching, beats: BeatLog) -> None:
        """Begin with an empty past."""
        self._coaching = coaching
        self._beats = beats
        self.landings = 0
        """How many there were."""
        self.stills = StillKeeper()
        self._newest: dict[Side, tuple[Judged, Verdict | None]] = {}
        self._told = Told()
        self._marked = Marks()
        self._trail: deque[TrailMark] = deque(maxlen=TRAIL_MARKS)
        self._offsets_s: deque[float | None] = deque(maxlen=OFFSET_STEPS)
        self._offset: tuple[float | None, float | None] | None = None
        self._drill_runs = 0
        self._troubled_since_s: float | None = None
        self._last_contact_s: float | None = None
        self._strip = CoachStrip(coaching)
        self.blind: str | None = None
        """Key of the trouble for which nothing can be seen; None: pictures come."""

    def landing(self, judged: Judged, view: View | None = None) -> None:
        """Take a landing for the marks, the last landings and the stills; `view` as of now."""
        self._forget_last_drill()
        self._strip.landing(judged)
        self.landings += 1
        landing = judged.landing
        told = self._told.verdict(judged, self._coaching.progress.share_done)
        self._newest[landing.side] = (judged, told)
        self._last_contact_s = landing.t_contact_s
        if judged.run is None:
            return
        if not self._silent:
            self.stills.landing(judged, told, view)
        if told is None and judged.verdict is not None:
            return
        over_deg = None
        if landing.shank_deg is not None and judged.border_deg is not None:
            over_deg = landing.shank_deg - judged.border_deg
        cued = judged.t_cue_s is not None
        mark = TrailMark(landing.side, judged.verdict, over_deg, cued, landing.shank_deg)
        self._trail.append(mark)

    def step(self, record: StepRecord) -> None:
        """Take a step for its offset from the beat."""
        self._offsets_s.append(record.beat_offset_s)
        self._offset = None

    def _forget_last_drill(self) -> None:
        runs = len(self._coaching.runs)
        if runs != self._drill_runs:  # another limit, another beat: old marks would mislead
            self._drill_runs = runs
            self._trail.clear()
            self._offsets_s.clear()
            self._offset = None
            self._told.start_drill()

    def with_controls(self, scene: Scene, controls: Controls, t_s: float) -> Scene:
        """Add what the coach's keys brought: the answer to the last one, and the coach's strip.

        Args:
            scene: As built by `scene`.
            controls: Takes the keys.
            t_s: Now, session clock.
        """
        felt = scene.felt
        if felt is not None and controls.typed is not None:
            felt = replace(felt, typed=controls.typed)
        coach = None
        if controls.coach_strip and scene.drill is not None:
            rate_spm = None if scene.rhythm is None else scene.rhythm.step_rate_spm
            coach = self._strip.figures(scene.drill, rate_spm)
        answer, stills = controls.answer(t_s), scene.stills
        if controls.still_wanted(t_s) and scene.state in ("drill", "paused") and not self._silent:
            stills = self.stills.pair()
        return replace(scene, felt=felt, answer=answer, coach=coach, stills=stills)

    def for_coach(
        self, seen: Observation | None, t_s: float
    ) -> tuple[CoachFigures, tuple[TrailMark, ...]]:
        """Return the coach's figures and the last landings, whatever the runner is shown.

        Args:
            seen: The newest observation; None: none yet.
            t_s: Now, session clock.
        """
        self._forget_last_drill()
        rate_spm = self._rhythm(seen, t_s, t_s).step_rate_spm
        return self._strip.figures(self._drill_status(seen), rate_spm), tuple(self._trail)

    # --- the scene ------------------------------------------------------------------------------

    def scene(
        self,
        seen: Observation | None,
        frame: Frame | None,
        t_s: float,
        notices: tuple[str, ...] = (),
        ahead_s: float = 0.0,
    ) -> Scene:
        """Build the scene.

        Args:
            seen: The newest observation; None: none yet.
            frame: The picture that it was made from; None: there is none.
            t_s: Now, session clock.
            notices: Short lines, ready to read.
            ahead_s: How much later it will be seen; the beat is shown as it stands then.
        """
        self._forget_last_drill()
        progress = self._coaching.progress
        drill = progress.drill
        status = self._drill_status(seen)
        silent = self._silent
        few = silent or thinned(drill, progress.share_done)
        trouble = self.trouble(seen, t_s)
        state: State = progress.state
        sentence = state_sentence(state)
        heading: str | None = None
        if state == "countdown" and not self._coaching.attended and status.belt_speed:
            # Nobody tells the runner that now is the time.
            sentence = Sentence("start_belt", "calm", (("speed", status.belt_speed),))
        if state == "rest" and progress.rest_asked:
            sentence = Sentence("tired", "calm")
        if state == "drill":
            if trouble is None:
                sentence = self._coaching.policy.sentence(t_s)
                if status.proving:
                    sentence = Sentence("on_your_own", "calm")
            else:
                learning = trouble.startswith(_LEARNING)  # no fault of anybody: the drill goes on
                state = "drill" if learning else "trouble"
                sentence = Sentence(trouble, "calm" if learning else "warning")
                heading = "not_judged" if trouble in _WELL_SEEN else None
        view = None if seen is None else seen.view
        near = view.near_side if view is not None else None
        drawn = seen if seen is not None and near is not None and seen.pose.found else None
        return Scene(
            t_s=t_s,
            state=state,
            frame=frame,
            view=view,
            leg_near_px=None if drawn is None or near is None else leg_points(drawn.pose, near),
            leg_far_px=(
                None if drawn is None or near is None else leg_points(drawn.pose, other(near))
            ),
            drill=replace(status, share_within=()) if few else status,
            rhythm=self._rhythm(seen, t_s, t_s + ahead_s),
            landings=self._marks(seen, t_s, silent),
            trail=() if silent else tuple(self._trail),
            sentence=sentence,
            heading=heading,
            notices=notices,
            show_view=drill.view,
            show_guides=drill.guides,
            show_verdict=not silent,
            felt=None if progress.felt is None else progress.felt.status,
            stills=self.stills.pair() if state == "rest" else (),
        )

    def trouble(self, seen: Observation | None, t_s: float) -> str | None:
        """Return the key of what keeps landings from being judged, once it lasts; None: nothing.

        Args:
            seen: The newest observation; None: none yet.
            t_s: Now, session clock.
        """
        if self.blind is not None:
            return self.blind
        trouble = None if seen is None else seen.trouble
        if trouble is None:
            self._troubled_since_s = None
            return None
        if self._troubled_since_s is None:
            self._troubled_since_s = t_s
        return trouble if t_s - self._troubled_since_s >= TROUBLE_AFTER_S else None

    @property
    def _silent(self) -> bool:
        """Whether the runner is told of no landing now how it was judged."""
        return self._coaching.progress.proving or not self._verdict_shown

    @property
    def _verdict_shown(self) -> bool:
        """Whether the runner is to know now how a landing was judged.

        Feedback that is off, or comes as a sum after some steps, is so on the screen too.
        """
        progress = self._coaching.progress
        shown = progress.drill.feedback in ("every step", "fading")
        return shown and progress.feedback_on

    def _drill_status(self, seen: Observation | None) -> DrillStatus:
        progress = self._coaching.progress
        status = measured_belt(progress.status(), progress.belt, seen)
        left_s = progress.countdown_left_s
        if left_s is not None:  # the painter counts down to the state's end
            return replace(status, seconds_left=left_s)
        if status.seconds_left is not None and math.isinf(status.seconds_left):
            return replace(status, seconds_left=None)  # it ends when it is ended
        return status

    def rhythm(self, seen: Observation | None, t_s: float, ahead_s: float) -> Rhythm:
        """Build the rhythm alone, with the beat as it stands `ahead_s` after `t_s`."""
        return self._rhythm(seen, t_s, t_s + ahead_s)

    def _rhythm(self, seen: Observation | None, t_s: float, shown_s: float) -> Rhythm:
        beat = self._beats.last(shown_s)
        number, age_s, period_s = beat or (0, None, None)
        if age_s is not None and period_s and age_s > 2.0 * period_s:
            age_s = period_s = None  # it was turned off
        mean_s = step_s = None
        if period_s:
            step_s = self._beats.step_s(shown_s)
            mean_s = self._mean_offset_s(step_s)
        stale = self._last_contact_s is None or t_s - self._last_contact_s > RATE_FRESH_S
        rate_spm = None if seen is None or stale else seen.step_rate_spm
        target_spm = self._coaching.target_spm
        return Rhythm(rate_spm, target_spm, age_s, period_s, mean_s, number, step_s)

    def _mean_offset_s(self, step_s: float | None) -> float | None:
        """Return the mean of the last steps' offsets, summed up anew for another step or beat."""
        if self._offset is None or self._offset[0] != step_s:
            summary = beat_summary(self._offsets_s, step_s)
            self._offset = step_s, None if summary is None else summary.mean_offset_s
        return self._offset[1]

    def _marks(self, seen: Observation | None, t_s: float, silent: bool) -> tuple[LandingMark, ...]:
        if seen is None or seen.view is None:
            return ()
        view, mark = seen.view, self._marked.of
        return tuple(
            mark(judged.landing, None, None, view, t_s, told=False)
            if silent or told != judged.verdict
            else mark(judged.landing, judged.verdict, judged.border_deg, view, t_s)
            for judged, told in self._newest.values()
            if t_s - judged.landing.t_contact_s <= MARK_FRESH_S
        )
