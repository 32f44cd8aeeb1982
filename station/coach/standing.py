"""Where in its plan a session stands: all that can be asked of it, and nothing that moves it."""

from __future__ import annotations

from station.coach.adjustments import DrillAdjustments
from station.coach.belt_request import BeltRequest
from station.coach.belt_unchanged import BeltUnchanged
from station.coach.course import Span
from station.coach.events import Event, EventLog
from station.coach.felt import FeltQuestion
from station.coach.hop_count import HopCounter
from station.coach.judged import JudgedLandings
from station.coach.mastery import Mastery
from station.coach.plan import Drill, Plan
from station.coach.raising import RaiseGuard
from station.coach.scene import DrillStatus, State
from station.coach.timer import Timer
from station.values import Belt

BELT_NOTICE_S = 8.0
"""How long the screen says that the belt changes: time to read it and to set the belt."""


class Standing:
    """The state of a session. Used by one thread."""

    def __init__(
        self,
        plan: Plan,
        countdown_s: float,
        belt_limit_mps: float | None,
        runner_belt_limit_mps: float | None,
    ) -> None:
        """Stand before the first drill; see `SessionProgress`."""
        self.plan = plan
        self.sound_on = True
        """Whether the coach wants beat and cues to be heard."""
        self.log = EventLog()
        self._countdown_s = max(0.0, countdown_s)
        known = [mps for mps in (belt_limit_mps, runner_belt_limit_mps) if mps is not None]
        self._adjust = DrillAdjustments(plan, min(known, default=None))
        self._guard = RaiseGuard()
        self._t_s: float | None = None
        self._span: Span | None = None
        self._history: list[Span] = []
        self._done = False
        self._counted = 0
        self._judged = JudgedLandings()  # of the drill that runs
        self._mastery = Mastery(None)
        self._hops: HopCounter | None = None
        self._felt: FeltQuestion | None = None
        self._request: BeltRequest | None = None
        self._unchanged: BeltUnchanged | None = None  # of the request
        self._rest: Timer | None = None  # that the runner is asked for
        self._belt_set: Belt | None = None  # what is believed to run
        self._belt_seen_mps: float | None = None
        self._belt_noted_s: float | None = None  # drill time of the last change of belt

    @property
    def events(self) -> tuple[Event, ...]:
        """Every change so far, with time and reason."""
        return self.log.all

    @property
    def now_s(self) -> float:
        """The time that it was moved to last, session clock; 0 before the first."""
        return self._t_s or 0.0

    @property
    def paused(self) -> bool:
        """Whether the coach has paused."""
        return self._span is not None and self._span.paused

    @property
    def belt_waits(self) -> bool:
        """Whether the drill stands still until the belt runs as asked."""
        return self._span is not None and "belt" in self._span.reasons

    @property
    def belt_unchanged(self) -> bool:
        """Whether the belt that is waited for is seen to run on as before it was asked for."""
        return self.belt_waits and self._unchanged is not None and self._unchanged.still

    @property
    def rest_asked(self) -> bool:
        """Whether the drill stands still because the runner is asked to rest."""
        return self._span is not None and "rest" in self._span.reasons

    @property
    def asks_felt(self) -> bool:
        """Whether the runner is asked how a drill felt, and has not answered yet."""
        return self.state == "felt" and self._felt is not None and self._felt.answer is None

    @property
    def done(self) -> bool:
        """Whether the session is over."""
        return self._done

    @property
    def before_first(self) -> bool:
        """Whether no drill has begun."""
        return self._span is None or self._span.kind == "countdown"

    @property
    def state(self) -> State:
        """What the screen is to show; while the belt is waited for it is the drill's."""
        if self._done:
            return "done"
        if self.paused:
            return "paused"
        if self._span is None or self._span.kind == "countdown":
            return "countdown"
        if self._span.kind == "felt":
            return "felt"
        return "rest" if self.drill.kind == "rest" or self.rest_asked else "drill"

    @property
    def number(self) -> int:
        """The drill's number, from 1; in the countdown the first, at the end the last one run.

        While the runner is asked how a drill felt it is that drill's.
        """
        span = self._span or (self._history[-1] if self._history else None)
        return max(1, span.number) if span else 1

    @property
    def drill(self) -> Drill:
        """The drill that `number` names."""
        return self.plan.drills[self.number - 1]

    @property
    def countdown_left_s(self) -> float | None:
        """Seconds to the first drill; None outside the countdown."""
        if self._done or self._t_s is None or (self._span and self._span.kind != "countdown"):
            return None if self._t_s is not None else self._countdown_s
        return max(0.0, self._countdown_s - self.elapsed_s)

    @property
    def elapsed_s(self) -> float:
        """Time in this drill (or countdown, or question), without standstills."""
        if self._span is None or self._t_s is None:
            return 0.0
        return self._span.elapsed_s(self._t_s)

    @property
    def share_done(self) -> float:
        """How much of the drill's length is over, 0 to 1."""
        if self._done:
            return 1.0
        if self._span is None or self._span.kind == "countdown":
            return 0.0
        if self._span.kind == "felt":
            return 1.0
        if self._hops is not None:
            return min(1.0, self._hops.counted / self.drill.hop_count)
        if self.drill.steps is not None:
            return min(1.0, self._counted / self.drill.steps)
        return min(1.0, self.elapsed_s / (self.drill.seconds or 1.0))

    @property
    def proving(self) -> bool:
        """Whether the last part before mastery runs: no cue sounds."""
        running = self._span is not None and self._span.kind == "drill"
        return running and self._mastery.proving

    @property
    def mastery(self) -> Mastery:
        """The drill's verdicts, and how far its gate is."""
        return self._mastery

    @property
    def hops(self) -> HopCounter | None:
        """The drill's hops; None where it is no hop drill by rounds."""
        return self._hops

    @property
    def felt(self) -> FeltQuestion | None:
        """The question that stands, answered or not; None outside the state `felt`."""
        return self._felt

    @property
    def belt(self) -> Belt | None:
        """What the belt is to be set to, the coach's change included; None: it stands."""
        return self._adjust.belt(self.number)

    @property
    def belt_set(self) -> Belt | None:
        """What the belt is believed to run at: what was asked last and is no more waited for."""
        return self._belt_set

    @property
    def belt_seen_mps(self) -> float | None:
        """The belt's speed as last measured; None: it cannot be told."""
        return self._belt_seen_mps

    @property
    def limit_by_deg(self) -> float:
        """What the coach has added to this drill's landing limits, degrees."""
        return self._adjust.limit_by_deg(self.number)

    @property
    def feedback_on(self) -> bool:
        """False: the coach has turned this drill's cues, corrections and praise off."""
        return self._adjust.feedback_on(self.number)

    def target_spm(self, baseline_spm: float | None = None) -> float | None:
        """Return the target step rate, the coach's change included; None: there is none.

        Args:
            baseline_spm: The runner's own step rate at this belt setting, for targets such as
                "+5 %"; None: not known.
        """
        target = self._adjust.target_spm(self.number, baseline_spm)
        return self._guard.kept(target, self.elapsed_s)

    def beat_spm(self, baseline_spm: float | None = None) -> float | None:
        """Return the rate that the beat is to keep now; None: no beat now."""
        if self.state != "drill" or self.belt_waits or not self.drill.beat or not self.sound_on:
            return None
        return self.target_spm(baseline_spm)

    def drill_at(self, t_s: float) -> tuple[int, Drill] | None:
        """Return the number and drill that ran at a time up to now; None: none, or it stood."""
        for span in (*self._history[::-1], *((self._span,) if self._span else ())):
            if span.kind == "drill" and span.runs_at(t_s):
                return span.number, self.plan.drills[span.number - 1]
        return None

    def status(self) -> DrillStatus:
        """Return what the screen tells of the drill."""
        drill, running = self.drill, self._span is not None and self._span.kind == "drill"
        elapsed_s, counted = (self.elapsed_s, self._counted) if running else (0.0, 0)
        if self._done or (self._span is not None and self._span.kind == "felt"):
            elapsed_s, counted = drill.seconds or 0.0, drill.steps or 0
        noted_s = self._belt_noted_s if running else None
        changes = self.belt_waits or (noted_s is not None and elapsed_s - noted_s < BELT_NOTICE_S)
        return DrillStatus(
            name=drill.name,
            number=self.number,
            count=len(self.plan.drills),
            belt_speed=self._adjust.belt_text(self.number),
            seconds_left=self._seconds_left(elapsed_s),
            steps_left=None if drill.steps is None else max(0, drill.steps - counted),
            belt_changes=changes,
            share_within=self._mastery.shares_within(),
            belt_waits=self.belt_waits,
            belt_unchanged=self.belt_unchanged,
            hop=None if self._hops is None or not running else self._hops.status,
            proving=self.proving,
        )

    def _seconds_left(self, elapsed_s: float) -> float | None:
        """Return how long the drill, or the rest that is asked before it, still takes."""
        if self.rest_asked and self._rest is not None:
            return self._rest.left_at(self.now_s)
        seconds = self.drill.seconds
        return None if seconds is None else max(0.0, seconds - elapsed_s)
