"""What is amiss with the running now, as keys of the words file, and which of it is said first."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from statistics import median

from station.coach.plan import Drill
from station.coach.posture_watch import Bounce, Heel, Lean, PostureRule, Strike
from station.values import Belt, Cue, Landing, Side, Step, Verdict, other

ORDER = ("rate", "reach", "lean", "strike", "heel", "bounce")
"""Which correction goes before which. Before all of them go safety and the request for a slower
belt (see `station.coach.sentences`)."""


@dataclass(frozen=True, slots=True)
class CorrectionRule:
    """How steady corrections are."""

    clear_after: int = 4
    """Judged landings within in a row that take a correction back."""
    rate_steps: int = 8
    """The step rate is the median of the last so many steps."""
    rate_off: float = 0.03
    """Share of the target beyond which the step rate is corrected. Runners notice a tempo that is
    about 4 % off (Van Dyck 2015, Sports Med Open 1:15)."""
    rate_back: float = 0.02
    """Share of the target within which a correction of rate is taken back."""
    posture: PostureRule = field(default_factory=PostureRule)


class Corrections:
    """Watches one drill at a time. Used by one thread; has no clock."""

    def __init__(self, rule: CorrectionRule) -> None:
        """Begin before the first drill."""
        self._rule = rule
        self._bounce = Bounce(rule.posture)
        self.start_drill(None)

    def start_drill(self, drill: Drill | None) -> None:
        """Forget the drill before; only what bounce was untouched stays."""
        rule = self._rule
        self._drill = drill
        self._judged: deque[tuple[Side, Verdict]] = deque(maxlen=2 * rule.clear_after)
        self._rates_spm: deque[float] = deque(maxlen=rule.rate_steps)
        self._reach: Side | str | None = None  # a side, or "both"
        self._rate: str | None = None
        self._rate_held = False
        self._lean = Lean(rule.posture)
        self._strike = None if drill is None else Strike(drill, rule.posture)
        self._heel = None if drill is None else Heel(drill, rule.posture)
        self._bounce.start_drill()

    # --- taken ----------------------------------------------------------------------------------

    def landing(
        self,
        landing: Landing,
        verdict: Verdict | None,
        target_spm: float | None,
        cue: Cue | None,
        answered: bool,
    ) -> None:
        """Take one landing of the drill.

        Args:
            landing: In order of time.
            verdict: None: it could not be judged.
            target_spm: The drill's target step rate; None: there is none.
            cue: That it was answered with.
            answered: Whether its leg is measured well enough to be corrected.
        """
        drill = self._drill
        if drill is None:
            return
        self._take_rate(landing.step_rate_spm, target_spm)
        if not answered:
            return
        if self._strike is not None:
            self._strike.add(landing)
        if verdict is not None:
            self._judged.append((landing.side, verdict))
        # A fading drill fades on the screen too: words come with the sound only. So do they where
        # the cue goes by the median, and where it is left out by the draw.
        plain = drill.feedback == "every step" and drill.cue_on == "landing" and not drill.withhold
        if verdict == "ahead" and (cue is not None or plain):
            self._reach = self._whose(landing.side)
        last = [v for _, v in self._judged][-self._rule.clear_after :]
        if len(last) == self._rule.clear_after and "ahead" not in last:
            self._reach = None

    def step(self, step: Step, belt: Belt | None) -> None:
        """Take one final step of the drill, at what the belt is set to."""
        drill = self._drill
        if drill is None:
            return
        if drill.kind == "lean":
            self._lean.add(step)
        if self._heel is not None and step.near:  # the far foot's heel is too often hidden
            self._heel.add(step)
        self._bounce.add(step, drill, belt)

    def _whose(self, side: Side) -> Side | str:
        """Name the foot only when the other one is seen to land within."""
        others = [v for of, v in self._judged if of == other(side)]
        return side if len(others) >= 2 and "ahead" not in others else "both"

    def _take_rate(self, rate_spm: float | None, target_spm: float | None) -> None:
        if rate_spm is not None:
            self._rates_spm.append(rate_spm)
        if target_spm is None or len(self._rates_spm) < self._rule.rate_steps:
            self._rate, self._rate_held = None, False
            return
        off = median(self._rates_spm) / target_spm - 1.0
        if abs(off) > self._rule.rate_off:
            self._rate = "quicker_steps" if off < 0.0 else "slower_steps"
        elif abs(off) < self._rule.rate_back:
            self._rate = None
        self._rate_held = self._rate is None

    # --- told -----------------------------------------------------------------------------------

    @property
    def seen_any(self) -> bool:
        """Whether a landing of this drill could be judged."""
        return bool(self._judged)

    @property
    def diving(self) -> bool:
        """Whether toe diving, in a drill that minds it, stands against praise."""
        return self._heel is not None and self._heel.diving

    def called_for(self) -> dict[str, str]:
        """Return the corrections called for now: key of the words file by its place in `ORDER`."""
        found = {
            "rate": self._rate,
            "reach": self._reach_key(),
            "lean": self._lean.key,
            "strike": None if self._strike is None else self._strike.key,
            "heel": None if self._heel is None else self._heel.key,
            "bounce": "less_bounce" if self._bounce.on else None,
        }
        return {place: key for place in ORDER if (key := found[place]) is not None}

    def first(self) -> str | None:
        """Return the key of the correction that goes before all others; None: nothing is amiss."""
        return next(iter(self.called_for().values()), None)

    def _reach_key(self) -> str | None:
        if self._reach is None:
            return None
        if self._rate_held:  # quicker steps would be the wrong way to less reach now
            return "lift_knees" if self._reach == "both" else f"lift_knee_{self._reach}"
        return "reach_less" if self._reach == "both" else f"reach_less_{self._reach}"
