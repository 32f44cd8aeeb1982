"""Moves the plan on and answers landings: limits, verdicts, beat and cues, all routed here."""

from __future__ import annotations

from collections.abc import Callable

from station.coach.baseline import Baselines
from station.coach.commands import Command
from station.coach.course import Change, DrillEnded, DrillStarted, SessionEnded
from station.coach.feedback import FeedbackPolicy
from station.coach.progress import SessionProgress
from station.coach.verdict import Baseline, landing_limits
from station.live.record import DrillRun, Judged
from station.ports import Speaker
from station.values import Belt, Landing

SetBelt = Callable[[Belt], None]


class Coaching:
    """The coach's side of the loop. Used by one thread."""

    def __init__(
        self,
        progress: SessionProgress,
        speaker: Speaker,
        set_belt: SetBelt,
        known: tuple[Baseline, ...] = (),
    ) -> None:
        """Stand before the first drill.

        Args:
            progress: Goes through the plan.
            speaker: Keeps the beat, sounds the cues; started.
            set_belt: Tells the measurement what the belt is set to.
            known: The runner's baselines of earlier visits.
        """
        self.progress = progress
        self.policy = FeedbackPolicy()
        self.baselines = Baselines(known)
        self.runs: list[DrillRun] = []
        self.ended: str | None = None
        """Why the plan is over; None: it is not."""
        self.notices: dict[str, str] = {}
        self._speaker = speaker
        self._set_belt = set_belt
        self._belt: Belt | None = None
        self._beat_spm: float | None = None

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
        return self.progress.target_spm(self._baseline_spm)

    @property
    def _baseline_spm(self) -> float | None:
        baseline = self.baseline
        return None if baseline is None else baseline.step_rate_spm

    # --- moved by -------------------------------------------------------------------------------

    def advance(self, t_s: float) -> None:
        """Move to a time."""
        self._follow(self.progress.advance(t_s))

    def command(self, command: Command, t_s: float) -> None:
        """Do what the coach asks."""
        self._follow(self.progress.command(command, t_s))

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
            self.baselines.add(landing, run.drill, self.progress.belt)
        limit_deg = run.limits.of(landing.side).deg
        judged = judgeable and run.drill.kind != "rest"
        verdict = run.limits.judge(landing) if judged else None
        t_cue_s = None
        if run is self.run:  # a landing of the drill before is not answered any more
            cue = self.policy.landing(
                landing,
                verdict,
                t_s,
                share_done=self.progress.share_done,
                target_spm=self.target_spm,
                paused=self.progress.paused,
            )
            if cue is not None and self.progress.sound_on:
                onset_s = self._speaker.cue(cue)
                t_cue_s = onset_s if cue.kind == "ahead" else None
        self._follow(self.progress.landing(landing, verdict))
        return Judged(landing, verdict, limit_deg, run, t_cue_s)

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
            elif isinstance(change, SessionEnded):
                self.ended = "ended by the coach" if change.why == "coach" else change.why
        self._keep_belt()
        self._keep_beat()

    def _start(self, change: DrillStarted) -> None:
        limits = landing_limits(change.drill, self.baseline)
        self.runs.append(DrillRun(change.number, change.drill, change.t_s, limits))
        self.policy.start_drill(change.drill, change.t_s)
        rate = change.drill.step_rate
        if rate is not None and self.target_spm is None:
            self.notices["rate"] = (
                f"{change.drill.name}: no step rate target, as no baseline at this belt speed "
                "is known"
            )
        else:
            self.notices.pop("rate", None)

    def _keep_belt(self) -> None:
        belt, run = self.progress.belt, self.run
        if run is not None:
            run.belt_mps = None if belt is None else belt.speed_mps
        if belt is not None and belt != self._belt:
            changed = self._belt is not None
            self._belt = belt
            self._set_belt(belt)
            if changed and run is not None:  # the limit belongs to the belt speed
                run.limits = landing_limits(run.drill, self.baseline)

    def _keep_beat(self) -> None:
        beat_spm = self.progress.beat_spm(self._baseline_spm)
        run = self.run
        if run is not None:
            run.target_spm = self.target_spm
            run.beat_spm = beat_spm or run.beat_spm
        if beat_spm != self._beat_spm:
            self._beat_spm = beat_spm
            self._speaker.set_beat(beat_spm)
