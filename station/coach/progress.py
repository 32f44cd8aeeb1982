"""Where in its plan a session stands: moved by time, landings and the coach's commands.

It has no clock of its own: the same times and landings always give the same course. A drill's time
stands still in a pause, and a drill that ends by time ends at its exact instant, however late
`advance` is called.
"""

from __future__ import annotations

from station.coach.adjustments import DrillAdjustments
from station.coach.commands import (
    ChangeBelt,
    ChangeRate,
    Command,
    EndSession,
    NextDrill,
    Pause,
    PreviousDrill,
    Resume,
    SetSound,
)
from station.coach.course import (
    Change,
    DrillEnd,
    DrillEnded,
    DrillStarted,
    SessionEnd,
    SessionEnded,
    Span,
)
from station.coach.plan import Drill, Plan
from station.coach.scene import DrillStatus, State
from station.coach.tally import GateTally
from station.values import Belt, Landing, Verdict

DEFAULT_COUNTDOWN_S = 3.0
BELT_NOTICE_S = 8.0
"""How long the screen says that the belt changes: time to read it and to set the belt."""


class SessionProgress:
    """Goes through a plan. Used by one thread."""

    def __init__(
        self,
        plan: Plan,
        countdown_s: float = DEFAULT_COUNTDOWN_S,
        belt_limit_mps: float | None = None,
    ) -> None:
        """Stand before the first drill; time begins with the first `advance`.

        Args:
            plan: The drills, in order.
            countdown_s: Before the first drill; 0: none.
            belt_limit_mps: The coach's change of belt speed never goes beyond; None: only beyond
                what a treadmill can do.
        """
        self.plan = plan
        self.sound_on = True
        """Whether the coach wants beat and cues to be heard."""
        self._countdown_s = max(0.0, countdown_s)
        self._adjust = DrillAdjustments(plan, belt_limit_mps)
        self._t_s: float | None = None
        self._span: Span | None = None  # of the countdown (number 0) or the drill
        self._history: list[Span] = []
        self._done = False
        self._counted = 0
        self._tally = GateTally(None)
        self._belt_before: Belt | None = None
        self._belt_noted_s: float | None = None  # drill time of the last change of belt

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
                self._span = Span(0, t_s)
                return ()
            return self._begin(1, t_s, first=True)
        self._t_s = max(self._t_s, t_s)
        changes: list[Change] = []
        while (end_s := self._end_s()) is not None and end_s <= self._t_s:
            changes += self._go(end_s, "length", self._following)
        return tuple(changes)

    def landing(self, landing: Landing, verdict: Verdict | None) -> tuple[Change, ...]:
        """Count a landing; one of an earlier drill, of the countdown or of a pause does not count.

        Args:
            landing: In order of time.
            verdict: None: it could not be judged; it still counts as a step.

        Returns:
            What it ended and began: a drill by steps at its last landing, a drill with a gate when
            that is met.
        """
        span = self._span
        if self._done or span is None or span.number == 0 or not span.runs_at(landing.t_contact_s):
            return ()
        drill = self.plan.drills[span.number - 1]
        self._counted += 1
        elapsed_s = span.elapsed_s(landing.t_contact_s)
        self._tally.add(elapsed_s, landing.side, verdict)
        now_s = max(self._t_s or 0.0, landing.t_contact_s)
        if drill.steps is not None and self._counted >= drill.steps:
            return tuple(self._go(now_s, "length", self._following))
        if drill.advance is not None and self._tally.met(elapsed_s):
            return tuple(self._go(now_s, "mastered", self._following))
        return ()

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
        span = self._span
        if self._done or span is None or self._t_s is None:
            return tuple(changes)
        now_s = self._t_s
        if isinstance(command, NextDrill):
            changes += self._go(now_s, "coach", self._following)
        elif isinstance(command, PreviousDrill) and span.number > 0:
            changes += self._go(now_s, "coach", max(1, span.number - 1))
        elif isinstance(command, Pause) and not self.paused:
            span.pause(now_s)
        elif isinstance(command, Resume) and self.paused:
            span.resume(now_s)
        elif isinstance(command, ChangeRate):
            self._adjust.change_rate(self.number, command.by_spm)
        elif isinstance(command, ChangeBelt):
            if self._adjust.change_belt(self.number, command.by_tenths) and span.number > 0:
                self._belt_noted_s = self.elapsed_s
        elif isinstance(command, SetSound):
            self.sound_on = command.on
        elif isinstance(command, EndSession):
            changes += [*self._close(now_s, "coach"), self._finish(now_s, "coach")]
        return tuple(changes)

    # --- where it stands ------------------------------------------------------------------------

    @property
    def paused(self) -> bool:
        """Whether the coach has paused."""
        return self._span is not None and self._span.paused

    @property
    def done(self) -> bool:
        """Whether the session is over."""
        return self._done

    @property
    def state(self) -> State:
        """What the screen is to show."""
        if self._done:
            return "done"
        if self.paused:
            return "paused"
        if self._span is None or self._span.number == 0:
            return "countdown"
        return "rest" if self.drill.kind == "rest" else "drill"

    @property
    def number(self) -> int:
        """The drill's number, from 1; in the countdown the first, at the end the last one run."""
        span = self._span or (self._history[-1] if self._history else None)
        return max(1, span.number) if span else 1

    @property
    def drill(self) -> Drill:
        """The drill that `number` names."""
        return self.plan.drills[self.number - 1]

    @property
    def countdown_left_s(self) -> float | None:
        """Seconds to the first drill; None outside the countdown."""
        if self._done or self._t_s is None or (self._span and self._span.number > 0):
            return None if self._t_s is not None else self._countdown_s
        return max(0.0, self._countdown_s - self.elapsed_s)

    @property
    def elapsed_s(self) -> float:
        """Time in this drill (or countdown), without pauses."""
        if self._span is None or self._t_s is None:
            return 0.0
        return self._span.elapsed_s(self._t_s)

    @property
    def share_done(self) -> float:
        """How much of the drill's length is over, 0 to 1."""
        if self._done:
            return 1.0
        if self._span is None or self._span.number == 0:
            return 0.0
        if self.drill.steps is not None:
            return min(1.0, self._counted / self.drill.steps)
        return min(1.0, self.elapsed_s / (self.drill.seconds or 1.0))

    @property
    def belt(self) -> Belt | None:
        """What the belt is to be set to, the coach's change included; None: it stands."""
        return self._adjust.belt(self.number)

    def target_spm(self, baseline_spm: float | None = None) -> float | None:
        """Return the target step rate, the coach's change included; None: there is none.

        Args:
            baseline_spm: The runner's own step rate at this belt setting, for targets such as
                "+5 %"; None: not known.
        """
        return self._adjust.target_spm(self.number, baseline_spm)

    def beat_spm(self, baseline_spm: float | None = None) -> float | None:
        """Return the rate that the beat is to keep now; None: no beat now."""
        if self.state != "drill" or not self.drill.beat or not self.sound_on:
            return None
        return self.target_spm(baseline_spm)

    def drill_at(self, t_s: float) -> tuple[int, Drill] | None:
        """Return the number and drill that ran, unpaused, at a time up to now; None: none did."""
        for span in (*self._history[::-1], *((self._span,) if self._span else ())):
            if span.number > 0 and span.runs_at(t_s):
                return span.number, self.plan.drills[span.number - 1]
        return None

    def status(self) -> DrillStatus:
        """Return what the screen tells of the drill."""
        drill, running = self.drill, self._span is not None and self._span.number > 0
        elapsed_s, counted = (self.elapsed_s, self._counted) if running else (0.0, 0)
        if self._done:
            elapsed_s, counted = drill.seconds or 0.0, drill.steps or 0
        noted_s = self._belt_noted_s if running else None
        return DrillStatus(
            name=drill.name,
            number=self.number,
            count=len(self.plan.drills),
            belt_speed=self._adjust.belt_text(self.number),
            seconds_left=None if drill.seconds is None else max(0.0, drill.seconds - elapsed_s),
            steps_left=None if drill.steps is None else max(0, drill.steps - counted),
            belt_changes=noted_s is not None and elapsed_s - noted_s < BELT_NOTICE_S,
            share_within=self._tally.shares_within(),
        )

    # --- within ---------------------------------------------------------------------------------

    def _end_s(self) -> float | None:
        """Return when the countdown or the drill ends by time; None: not by time, or paused."""
        span = self._span
        if self._done or span is None or self.paused:
            return None
        length_s = self._countdown_s if span.number == 0 else self.drill.seconds
        if length_s is None:
            return None
        return span.began_s + length_s + sum(b - a for a, b in span.pauses)

    @property
    def _following(self) -> int:
        return self._span.number + 1 if self._span else 1

    def _go(self, t_s: float, why: DrillEnd, number: int) -> list[Change]:
        """Leave the drill (or countdown) for another one; a pause goes on in it."""
        first, paused = self._span is None or self._span.number == 0, self.paused
        changes = self._close(t_s, why)
        if number > len(self.plan.drills):
            return [*changes, self._finish(t_s, "plan done")]
        changes += self._begin(number, t_s, first)
        if paused and self._span is not None:
            self._span.pause(t_s)
        return changes

    def _close(self, t_s: float, why: DrillEnd) -> list[Change]:
        """End the drill that runs, if one does."""
        span = self._span
        if span is None or span.number == 0:
            return []
        self._belt_before = self.belt
        span.ended_s = t_s
        self._history.append(span)
        return [DrillEnded(t_s, span.number, self.drill, why)]

    def _finish(self, t_s: float, why: SessionEnd) -> SessionEnded:
        self._done, self._span = True, None
        return SessionEnded(t_s, why)

    def _begin(self, number: int, t_s: float, first: bool) -> tuple[Change, ...]:
        drill = self.plan.drills[number - 1]
        self._span = Span(number, t_s)
        self._counted = 0
        self._tally = GateTally(drill.advance)
        # Before the first drill nobody has been told of a belt, so nothing changes.
        changes = not first and self.belt != self._belt_before
        self._belt_noted_s = 0.0 if changes else None
        return (DrillStarted(t_s, number, drill),)
