"""Counts a drill's landings, and says when they end it."""

from __future__ import annotations

from station.coach.course import DrillEnd
from station.coach.overload_course import OverloadCourse
from station.coach.plan import Plan
from station.coach.steering import Steering
from station.values import Landing, Step, Verdict


class Counting(Steering):
    """A session whose landings are counted."""

    def __init__(
        self,
        plan: Plan,
        countdown_s: float,
        belt_limit_mps: float | None,
        runner_belt_limit_mps: float | None,
    ) -> None:
        """Begin with none counted."""
        super().__init__(plan, countdown_s, belt_limit_mps, runner_belt_limit_mps)
        self._overload = OverloadCourse(self.log)

    def step(self, step: Step) -> None:
        """Take a final step: a dive onto the toes is no good landing where the strike is a target.

        Args:
            step: Of a landing that was counted before; another changes nothing.
        """
        if step.toe_dive and (self.drill.strike_target is not None or self.drill.heel_settles):
            self._mastery.spoil(step.number)

    def overload(self, on: bool) -> None:
        """Take whether cues have stopped because too many landings are ahead; now."""
        if self._span is not None and self._span.kind == "drill":
            self._overload.take(on, self.now_s, self.elapsed_s)

    @property
    def rest_wanted(self) -> bool:
        """Whether the runner should rest or end: landings stay ahead though cues have stopped."""
        return self._overload.rest_asked

    def _count(
        self, landing: Landing, verdict: Verdict | None, target_spm: float | None
    ) -> DrillEnd | None:
        """Count a landing; return why it ends the drill, None where it does not."""
        span = self._span
        if self._done or span is None or span.kind != "drill":
            return None
        if not span.runs_at(landing.t_contact_s):
            return None
        drill = self.drill
        self._counted += 1
        elapsed_s = span.elapsed_s(landing.t_contact_s)
        if verdict is not None:
            self._judged.add(elapsed_s, verdict == "within", landing.reading_deg)
        target = self.target_spm() if target_spm is None else target_spm
        rate_spm = landing.step_rate_spm
        self._mastery.add(landing.number, elapsed_s, landing.side, verdict, rate_spm, target)
        if self._hops is not None:
            for note in self._hops.land(landing.side, landing.t_contact_s):
                self.log.note(landing.t_contact_s, note.kind, note.why, side=note.side)
            return "length" if self._hops.done else None
        if drill.steps is not None and self._counted >= drill.steps:
            return "length"
        turn = self._mastery.turn(elapsed_s)
        if turn == "mastered":
            return "mastered"
        if turn is not None:
            why = "each leg and the rate hold" if turn == "proving" else "not held without cues"
            self.log.note(landing.t_contact_s, turn, why, number=span.number)
        return None
