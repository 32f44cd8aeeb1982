"""Moves the plan on and answers landings: limits, verdicts, beat and cues, all routed here."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from station.coach.baseline import Baselines
from station.coach.commands import Command
from station.coach.course import Change, DrillEnded, DrillStarted, SessionEnded
from station.coach.far_leg import is_answered
from station.coach.feedback import FeedbackPolicy, FeedbackRule
from station.coach.plan import Drill
from station.coach.progress import SessionProgress
from station.coach.verdict import Baseline, LandingLimits, landing_limits
from station.coach.words import Words
from station.live.course_notes import CourseNotes
from station.live.pacing import Pacing
from station.live.record import DrillRun, Judged
from station.live.shelf import Shelf
from station.ports import Speaker
from station.values import Belt, BeltAsked, Cue, CueKind, HopsAsked, Landing, Step

SetBelt = Callable[[Belt], None]


@dataclass(slots=True)
class CueCounts:
    """What became of the cues of a session."""

    sounded: int = 0
    stale: int = 0
    """Dropped, since they would have sounded over a step late."""


class Coaching:
    """The coach's side of the loop. Used by one thread."""

    def __init__(
        self,
        progress: SessionProgress,
        speaker: Speaker,
        set_belt: SetBelt,
        known: tuple[Baseline, ...] = (),
        rule: FeedbackRule | None = None,
        attended: bool = True,
        settle_s: float = 0.0,
        far_leg_error_deg: float | None = None,
        words: Words | None = None,
    ) -> None:
        """Stand before the first drill.

        Args:
            progress: Goes through the plan.
            speaker: Keeps the beat, sounds the cues; started.
            set_belt: Tells the measurement what the belt is set to.
            known: The runner's baselines of earlier visits.
            rule: How sparing the feedback is; None: as usual.
            attended: A coach stands by; unattended, a beat out of the ordinary is not used.
            settle_s: So much running goes by before a landing counts for a baseline; a novice on
                a treadmill takes about six minutes.
            far_leg_error_deg: The far leg's shank error as measured in this bay; None: it was not.
            words: The language of what is told on the screen; None: English.
        """
        self.progress = progress
        self.attended = attended
        self.policy = FeedbackPolicy(rule)
        self.cues = CueCounts()
        self.baselines = Baselines(known, settle_s=settle_s)
        self.runs: list[DrillRun] = []
        self._shelf = Shelf()
        self.ended: str | None = None
        """Why the plan is over; None: it is not."""
        self.notices: dict[str, str] = {}
        self._notes = CourseNotes(progress, self.notices, words)
        self._pacing = Pacing(progress, speaker, self.baselines, self._notes, attended)
        self.beat = self._pacing.beat
        self._limits_for: tuple[Belt | None, float] | None = None
        self._far_leg_error_deg = far_leg_error_deg
        self._speaker = speaker
        self._set_belt = set_belt
        self._belt: Belt | None = None
        self._now_s = 0.0

    @property
    def run(self) -> DrillRun | None:
        """The drill that runs now; None before the first and after the last."""
        last = self.runs[-1] if self.runs else None
        return last if last is not None and last.ended_s is None else None

    @property
    def baseline(self) -> Baseline | None:
        """The runner's baseline at what the belt is set to now."""
        return self.baselines.at(self.progress.belt)

    @property
    def target_spm(self) -> float | None:
        """The target step rate now."""
        return self._pacing.target_spm

    @property
    def kept_notices(self) -> tuple[str, ...]:
        """What of the course of the drills must be known afterwards, too."""
        return self._notes.kept

    def take_belt_asked(self) -> tuple[BeltAsked, ...]:
        """Return the belt settings asked for since the last call."""
        return self._notes.take_asked()

    def take_hops_asked(self) -> tuple[HopsAsked, ...]:
        """Return the hops that began or ended since the last call."""
        return self._notes.take_hops_asked()

    def cue_counts(self) -> dict[str, Any]:
        """Return what became of the session's cues so far, as plain values."""
        return {
            "sounded": self.cues.sounded,
            "withheld_by_gap": self.policy.dropped_by_gap,
            "withheld_at_random": self.policy.withheld_at_random,
            "stale": self.cues.stale,
        }

    # --- moved by -------------------------------------------------------------------------------

    def advance(self, t_s: float) -> None:
        """Move to a time."""
        self._now_s = t_s
        self._follow(self.progress.advance(t_s))

    def command(self, command: Command, t_s: float) -> None:
        """Do what the coach asks; that a pause has begun is heard."""
        self._now_s = t_s
        was_paused = self.progress.paused
        self._follow(self.progress.command(command, t_s))
        if self.progress.paused and not was_paused:
            self.say("paused", t_s)

    def see_belt(self, speed_mps: float | None, t_s: float) -> None:
        """Take the belt's measured speed; it may confirm what was asked."""
        waited = self.progress.belt_waits
        self.progress.see_belt(speed_mps, t_s)
        if waited and not self.progress.belt_waits:
            self._follow(())

    def landing(self, landing: Landing, t_s: float, judgeable: bool) -> Judged:
        """Judge a landing, answer it, and count it.

        Args:
            landing: The newest contact.
            t_s: Now, session clock.
            judgeable: False: the measurement has a trouble, no verdict can be given.
        """
        found = self.progress.drill_at(landing.t_contact_s)
        run = None if found is None else self._run_at(landing.t_contact_s)
        if run is None:
            return Judged(landing, None, None, None, None)
        if judgeable:  # a walker's steps are no runner's baseline
            self.baselines.add(landing, run.drill, self._belt_of(run))
        limit_deg = run.limits.of(landing.side).deg
        judged = judgeable and run.drill.judges
        verdict = run.limits.judge(landing) if judged else None
        t_cue_s, withheld = None, False
        if run is self.run:  # a landing of the drill before is not answered any more
            cue = self.policy.landing(
                landing,
                verdict,
                t_s,
                share_done=self.progress.share_done,
                target_spm=self.target_spm,
                paused=self.progress.paused,
                silent=self.progress.proving or not self.progress.feedback_on,
                answered=self._is_answered(landing, run),
            )
            withheld = self.policy.withheld_last and self.progress.sound_on
            self.progress.overload(self.policy.overloaded)
            self.policy.warn("tired" if self.progress.rest_wanted else None)
            if cue is not None:
                onset_s = self._sound(cue)
                t_cue_s = onset_s if cue.kind == "ahead" else None
        self._follow(self.progress.landing(landing, verdict, self.target_spm))
        return Judged(landing, verdict, limit_deg, run, t_cue_s, withheld)

    def _is_answered(self, landing: Landing, run: DrillRun) -> bool:
        if landing.near or run.drill.gives_baseline:  # one still growing is not summed up each time
            return True
        change_deg = run.drill.landing_change_deg
        return is_answered(landing, run.limits, self.baseline, change_deg, self._far_leg_error_deg)

    def step(self, step: Step) -> None:
        """Take a final step of a landing that was taken before."""
        run = self._run_at(step.t_contact_s)
        if run is None:
            return
        self.baselines.step(step)
        if run is self.run:
            self.progress.step(step)
            if not self.progress.paused:
                self.policy.step(step, self._belt_of(run))

    def close(self, t_s: float) -> None:
        """Note that the session ended in the drill that still runs, if one does."""
        run = self.run
        if run is not None:
            run.ended_s, run.why = t_s, "session"

    def _belt_of(self, run: DrillRun) -> Belt | None:
        """Return what the belt was set to in a drill: a late landing may be of the one before."""
        if run is self.run:
            return self.progress.belt
        drilled = run.drill.belt
        if drilled is None or run.belt_mps is None:
            return None
        return Belt(run.belt_mps, drilled.incline_percent)

    def say(self, message: CueKind, t_s: float) -> float | None:
        """Sound a message that is about no single landing, at once.

        Args:
            message: `come_forward`, `stop_feet_aside` or `paused`.
            t_s: Now, session clock.

        Returns:
            Its onset, session clock; None: sound is off. No correction or praise cuts it off.
        """
        onset_s = self._sound(Cue(message, t_s))
        if onset_s is not None:
            self.policy.message(onset_s)
        return onset_s

    def _sound(self, cue: Cue) -> float | None:
        """Sound a cue where sound is wanted; return its onset, None where it does not sound."""
        if not self.progress.sound_on:
            return None
        onset_s = self._speaker.cue(cue)
        self.cues.sounded += onset_s is not None
        self.cues.stale += onset_s is None
        return onset_s

    def _run_at(self, t_s: float) -> DrillRun | None:
        for run in reversed(self.runs):
            if run.began_s <= t_s and (run.ended_s is None or t_s < run.ended_s):
                return run
        return None

    # --- what follows ---------------------------------------------------------------------------

    def _follow(self, changes: tuple[Change, ...]) -> None:
        for change in changes:
            if isinstance(change, DrillStarted):
                self._start(change)
            elif isinstance(change, DrillEnded):
                run = self.run
                if run is not None:
                    run.ended_s, run.why = change.t_s, change.why
                    self._pacing.ended(run, self._belt_of(run))
            elif isinstance(change, SessionEnded):
                self.ended = "ended by the coach" if change.why == "coach" else change.why
        self._notes.follow(self.runs)
        self._keep_belt()
        self._pacing.keep(self.run, self._now_s)

    def _start(self, change: DrillStarted) -> None:
        run = DrillRun(
            change.number, change.drill, change.t_s, self._limits(change.drill),
            records=self._shelf.rows(),
        )  # fmt: skip
        run.mastery, run.hops = self.progress.mastery, self.progress.hops
        self.runs.append(run)
        self.policy.start_drill(change.drill, change.t_s)
        self.beat.start_drill()

    def _limits(self, drill: Drill) -> LandingLimits:
        self._limits_for = (self._belt, self.progress.limit_by_deg)
        return landing_limits(drill, self.baseline).moved(self.progress.limit_by_deg)

    def _keep_belt(self) -> None:
        belt, run = self.progress.belt, self.run
        if run is not None:
            run.belt_mps = None if belt is None else belt.speed_mps
            run.limit_by_deg = self.progress.limit_by_deg
        # The measurement is told what the belt runs at, not what somebody is still to set.
        known = belt if self.progress.before_first else self.progress.belt_set
        if known is not None and known != self._belt:
            self._belt = known
            self._set_belt(known)
        if run is not None and self._limits_for != (self._belt, self.progress.limit_by_deg):
            run.limits = self._limits(run.drill)  # the limit belongs to the belt speed
