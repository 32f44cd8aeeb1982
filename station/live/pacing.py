"""The running drill's target step rate, held against the runner's own, and the beat for it."""

from __future__ import annotations

from station.coach.baseline import Baselines
from station.coach.progress import SessionProgress
from station.coach.rate_check import RateFlag
from station.coach.rate_watch import RateWatch
from station.live.beat_keeper import BeatKeeper
from station.live.course_notes import CourseNotes
from station.live.record import DrillRun
from station.ports import Speaker
from station.values import Belt


class Pacing:
    """Keeps the beat. Used by one thread."""

    def __init__(
        self,
        progress: SessionProgress,
        speaker: Speaker,
        baselines: Baselines,
        notes: CourseNotes,
        attended: bool,
    ) -> None:
        """Begin without a beat.

        Args:
            progress: Goes through the plan.
            speaker: Keeps the beat; started.
            baselines: The runner's.
            notes: Told of a target that is not known, or out of the ordinary.
            attended: A coach stands by; unattended, a beat out of the ordinary is not used.
        """
        self.beat = BeatKeeper(speaker)
        self._progress = progress
        self._baselines = baselines
        self._notes = notes
        self._watch = RateWatch(attended)

    @property
    def target_spm(self) -> float | None:
        """The target step rate now; None: there is none, or what it is counted from is unknown."""
        return self._target()[0]

    def keep(self, run: DrillRun | None, t_s: float) -> None:
        """Have the beat kept as it is wanted now.

        Args:
            run: The drill that runs; gets target and beat; None: none does.
            t_s: Session clock.
        """
        if run is not None:
            self.beat.note_own(t_s)
        target_spm, flag = self._target()
        self._notes.tell_rate(run, target_spm, flag)
        wanted = self._progress.beat_spm(self._reference_spm) is not None
        beat_spm = self.beat.keep(target_spm if wanted else None, self._progress.drill, t_s)
        if run is not None:
            run.target_spm = target_spm
            run.beat_spm = beat_spm or run.beat_spm

    def ended(self, run: DrillRun, belt: Belt | None) -> None:
        """Take that a drill has been run, at what the belt was set to in it."""
        self._watch.used(run.target_spm, belt)

    @property
    def _reference_spm(self) -> float | None:
        """What a change of the step rate is counted from in this drill."""
        rate = self._progress.drill.step_rate
        if rate is None:  # nothing is counted: a baseline still growing is not summed up each time
            return None
        return self.beat.own_spm if rate.own else self._own_spm

    @property
    def _own_spm(self) -> float | None:
        """The runner's own step rate at what the belt is set to now."""
        baseline = self._baselines.at(self._progress.belt)
        return None if baseline is None else baseline.step_rate_spm

    def _target(self) -> tuple[float | None, RateFlag | None]:
        """Return the target step rate now, and what is out of the ordinary about it."""
        asked_spm = self._progress.target_spm(self._reference_spm)
        if asked_spm is None:
            return None, None
        return self._watch.look(asked_spm, self._own_spm, self._progress.belt)
