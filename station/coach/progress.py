"""Moves a session through its plan: by time, landings, the belt as seen, and the coach's commands.

It has no clock of its own: the same times and landings always give the same course. A drill's time
stands still in a pause and while the belt is being set, and what ends by time ends at its exact
instant, however late `advance` is called.
"""

from __future__ import annotations

from station.coach.commands import Command
from station.coach.counting import Counting
from station.coach.course import (
    Change,
    DrillEnd,
    DrillEnded,
    DrillStarted,
    SessionEnd,
    SessionEnded,
    Span,
)
from station.coach.fatigue import shows_fatigue
from station.coach.felt import FeltQuestion
from station.coach.hop_count import HopCounter
from station.coach.judged import JudgedLandings
from station.coach.ladder import Following, Ladder
from station.coach.lengths import length_s
from station.coach.mastery import Mastery
from station.coach.obeying import obey
from station.coach.overload_course import OverloadCourse
from station.coach.plan import Plan
from station.coach.timer import Timer
from station.values import Landing, Verdict

DEFAULT_COUNTDOWN_S = 3.0
REST_ASKED_S = 60.0
"""How long a tired runner is asked to rest before the plan goes on."""


class SessionProgress(Counting):
    """Goes through a plan. Used by one thread."""

    def __init__(
        self,
        plan: Plan,
        countdown_s: float = DEFAULT_COUNTDOWN_S,
        belt_limit_mps: float | None = None,
        runner_belt_limit_mps: float | None = None,
        hops_limit: int | None = None,
    ) -> None:
        """Stand before the first drill; time begins with the first `advance`.

        Args:
            plan: The drills, in order.
            countdown_s: Before the first drill; 0: none.
            belt_limit_mps: The bay's; no belt speed is asked beyond, by plan or coach; None: only
                what a treadmill can do is the limit.
            runner_belt_limit_mps: The same for this runner.
            hops_limit: Most hops of the session, both feet together; a drill that would go beyond
                is not begun, by plan or coach; None: no limit.
        """
        super().__init__(plan, countdown_s, belt_limit_mps, runner_belt_limit_mps)
        self._hops_limit = hops_limit
        self._hops_before = 0  # of the drills that are over
        self._ladder = Ladder(plan, self._adjust.belt)
        self._following: Following | None = None  # after the question

    # --- moved by -------------------------------------------------------------------------------

    def advance(self, t_s: float) -> tuple[Change, ...]:
        """Move to a time; one that has passed changes nothing.

        Args:
            t_s: Session clock.

        Returns:
            What began and ended on the way, in order, each at its exact time.
        """
        if self._t_s is None:
            self._t_s = t_s
            if self._countdown_s > 0.0:
                self._span = Span(0, t_s, "countdown")
                return ()
            return tuple(self._begin(Following(1, "plan begins"), t_s))
        self._t_s = max(self._t_s, t_s)
        changes: list[Change] = []
        while (due_s := self._due_s()) is not None and due_s <= self._t_s:
            changes += self._happen(due_s)
        return tuple(changes)

    def landing(
        self, landing: Landing, verdict: Verdict | None, target_spm: float | None = None
    ) -> tuple[Change, ...]:
        """Count a landing; one of an earlier drill, or while time stands still, does not count.

        Args:
            landing: In order of time.
            verdict: None: it could not be judged; it still counts as a step.
            target_spm: What the step rate is to be, where the drill's is relative to a baseline.

        Returns:
            What it ended and began: a drill by steps or hops at its last one, a drill with a gate
            when that is met.
        """
        why = self._count(landing, verdict, target_spm)
        if why is None:
            return ()
        return tuple(self._over(max(self.now_s, landing.t_contact_s), why))

    def command(self, command: Command, t_s: float) -> tuple[Change, ...]:
        """Do what the coach asks at a time.

        Args:
            command: What is asked. What makes no sense now (resume without a pause, a change of
                rate where the drill sets none, anything after the end) changes nothing.
            t_s: When it was asked, session clock.

        Returns:
            What began and ended, in order.
        """
        changes = list(self.advance(t_s))
        if not self._done and self._span is not None and self._t_s is not None:
            changes += obey(self, command, self._t_s)
        return tuple(changes)

    # --- for the commands -----------------------------------------------------------------------

    def too_many_hops(self, number: int) -> bool:
        """Return whether a drill's hops would be more than the session may still have."""
        wanted = self.plan.drills[number - 1].hop_count
        if self._hops_limit is None or not wanted:
            return False
        landed = 0 if self._hops is None else self._hops.counted
        return self._hops_before + landed + wanted > self._hops_limit

    def go(self, t_s: float, number: int) -> list[Change]:
        """Leave the drill (or countdown, or question) for another one; a pause goes on in it."""
        paused = self.paused
        changes = self._close(t_s, "coach")
        if number > len(self.plan.drills):
            return [*changes, self._finish(t_s, "plan done")]
        changes += self._begin(Following(number, "coach"), t_s)
        if paused:
            self.pause(t_s)
        return changes

    def end(self, t_s: float) -> list[Change]:
        """End the session by the coach's wish."""
        return [*self._close(t_s, "coach"), self._finish(t_s, "coach")]

    # --- within ---------------------------------------------------------------------------------

    def _due_s(self) -> float | None:
        """Return when something happens by time alone; None: nothing does."""
        span = self._span
        if self._done or span is None or span.paused:
            return None
        if span.stands:
            ends = [timer.ends_s for timer in self._timers()]
            return min((s for s in ends if s is not None), default=None)
        if span.kind == "felt":
            return span.reaches_s(0.0 if self._felt is None else self._felt.ends_s)
        countdown = span.kind == "countdown"
        return span.reaches_s(self._countdown_s if countdown else length_s(self.drill))

    def _happen(self, t_s: float) -> list[Change]:
        """Do what is due."""
        span = self._span
        if span is None:
            return []
        if span.stands:
            if self._request is not None and self._request.timer.ends_s == t_s:
                self.confirm_belt("nobody", t_s)
            elif self._rest is not None:
                self.end_rest(t_s)
            return []
        if span.kind == "countdown":
            return self._begin(Following(1, "plan begins"), t_s)
        if span.kind == "felt":
            if self._felt is not None and self._felt.answer is None:
                self._note_felt(t_s, "no answer")
            return self._enter(t_s)
        return self._over(t_s, "length" if self.drill.seconds is not None else "time limit")

    def _over(self, t_s: float, why: DrillEnd) -> list[Change]:
        """End a drill that has run its course, and go on to what follows."""
        number, drill, elapsed_s = self.number, self.drill, self.elapsed_s
        gate = drill.advance
        tired = why != "mastered" and shows_fatigue(
            self._judged, elapsed_s, None if gate is None else gate.share, self._judged.readings()
        )
        if tired:
            self.log.note(t_s, "fatigue", "landings got worse late in the drill", number=number)
        self._following = self._ladder.after(number, why == "mastered", tired)
        changes = self._close(t_s, why)
        if drill.ask_felt and self._judged:
            self._felt = FeltQuestion.about(number, self._judged.verdicts())
            self._span = Span(number, t_s, "felt")
            self.log.note(t_s, "felt asked", "drill over", number=number)
            return changes
        return changes + self._enter(t_s)

    def _enter(self, t_s: float) -> list[Change]:
        """Begin what follows."""
        following = self._following or Following(None, "plan done")
        self._following = self._felt = None
        if following.number is None:
            return [self._finish(t_s, following.ends)]
        return self._begin(following, t_s)

    def _close(self, t_s: float, why: DrillEnd) -> list[Change]:
        """End the drill that runs, if one does."""
        span, self._felt, self._rest = self._span, None, None
        self._request = None
        if span is None or span.kind != "drill":
            return []
        if self._hops is not None:
            self._hops_before, self._hops = self._hops_before + self._hops.counted, None
        belt, elapsed_s = self.belt, span.elapsed_s(t_s)
        # A rest, standing or walking, is nothing that the next drill could rise from.
        speed = None if belt is None or self.drill.kind == "rest" else belt.speed_mps
        self._guard.leave(speed, self.target_spm(), elapsed_s, why == "coach")
        span.ended_s = t_s
        self._history.append(span)
        self.log.note(t_s, "drill ended", why, number=span.number, ran_s=round(elapsed_s, 6))
        return [DrillEnded(t_s, span.number, self.drill, why)]

    def _finish(self, t_s: float, why: SessionEnd) -> SessionEnded:
        self._done, self._span = True, None
        self.log.note(t_s, "session ended", why)
        return SessionEnded(t_s, why)

    def _begin(self, following: Following, t_s: float) -> list[Change]:
        number = following.number or 1
        while self.too_many_hops(number):
            self.log.note(t_s, "hops limited", "no more hops in this visit", number=number)
            number += 1
            if number > len(self.plan.drills):
                return [self._finish(t_s, "plan done")]
        drill = self.plan.drills[number - 1]
        self._span = Span(number, t_s)
        self._counted = 0
        self._judged = JudgedLandings()
        self._mastery = Mastery(drill.advance)
        self._hops = HopCounter(drill.hops, drill.first_foot) if drill.hops else None
        self._overload = OverloadCourse(self.log)
        self._following = None
        self.log.note(t_s, "drill started", following.why, number=number, name=drill.name)
        belt, target_spm = self.belt, self._adjust.target_spm(number, None)
        speed = None if belt is None or drill.kind == "rest" else belt.speed_mps
        if self._guard.begin(speed, target_spm):
            self.log.note(t_s, "rate held", "the belt speed rises", spm=self.target_spm())
        self.ask_belt_of_drill(t_s)
        if following.rest:
            self._rest = Timer(REST_ASKED_S, t_s)
            self._span.stop("rest", t_s)
            self.log.note(t_s, "rest asked", following.why)
        return [DrillStarted(t_s, number, drill)]
