"""What else may be corrected: lean in lean drills, strike and heel where asked for, bounce."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass, field
from statistics import median

from station.coach.baseline import same_belt
from station.coach.plan import Drill
from station.values import Belt, Landing, Step


@dataclass(frozen=True, slots=True)
class PostureRule:
    """From where on posture is corrected."""

    steps: int = 6
    """Steps that a median is taken of, and landings of which most must be amiss."""
    lean_deg: tuple[float, float] = (3.0, 10.0)
    """Whole-body lean (ankle to head) that a lean drill asks for, degrees: a slight forward lean;
    common practice, no source."""
    lean_back_deg: float = 1.0
    """So far inside again a correction of lean is taken back."""
    bend_deg: float = 10.0
    """Trunk lean beyond the body's lean: bent at the hips. Wide, since the trunk is read 3 to 7 deg
    off (README). Runners asked to lean from the hips came to 14.1 deg of trunk lean, 7.3 unasked
    (Teng & Powers 2014, JOSPT 44:785)."""
    amiss: int = 4
    """Of the last `steps` landings; as many must be as asked to take a correction back."""
    bounce_steps: int = 10
    bounce_share: float = 1.2
    """Times the baseline's bounce from where on it is well above it; common practice, no source."""
    bounce_change_m: float | None = None
    """The smallest change of bounce that may be told; None: bounce is never corrected."""


class Lean:
    """The body's lean in a lean drill."""

    def __init__(self, rule: PostureRule) -> None:
        """Begin with no step."""
        self._rule = rule
        self._body_deg: deque[float] = deque(maxlen=rule.steps)
        self._bend_deg: deque[float] = deque(maxlen=rule.steps)
        self.key: str | None = None
        """The sentence that is called for; None: none is."""

    def add(self, step: Step) -> None:
        """Take a step of the drill; without a lean it does not count."""
        if step.body_lean_deg is None:
            return
        self._body_deg.append(step.body_lean_deg)
        if step.trunk_lean_deg is not None:
            self._bend_deg.append(step.trunk_lean_deg - step.body_lean_deg)
        if len(self._body_deg) < self._rule.steps:
            return
        body_deg, (low, high) = median(self._body_deg), self._rule.lean_deg
        bend_deg = median(self._bend_deg) if len(self._bend_deg) == self._rule.steps else 0.0
        inside = self._rule.lean_back_deg
        if bend_deg > self._rule.bend_deg - (inside if self.key == "lean_from_ankles" else 0.0):
            self.key = "lean_from_ankles"
        elif body_deg < low + (inside if self.key == "lean_more" else 0.0):
            self.key = "lean_more"
        elif body_deg > high - (inside if self.key == "lean_less" else 0.0):
            self.key = "lean_less"
        else:
            self.key = None


class Strike:
    """How the foot strikes, where the drill has a target for it: `unsure` does not count."""

    def __init__(self, drill: Drill, rule: PostureRule) -> None:
        """Take the drill's target."""
        self._target = drill.strike_target
        self._amiss = Amiss(rule)

    @property
    def key(self) -> str | None:
        """The sentence that is called for; None: none is."""
        return f"land_{self._target}" if self._amiss.on else None

    def add(self, landing: Landing) -> None:
        """Take a landing of the drill."""
        if self._target is None or landing.strike == "unsure":
            return
        wrong = ("rearfoot",) if self._target == "midfoot" else ("rearfoot", "midfoot")
        self._amiss.add(landing.strike in wrong)


class Heel:
    """Whether the heel settles in each stance, where the drill asks for it; and toe diving."""

    def __init__(self, drill: Drill, rule: PostureRule) -> None:
        """Take what the drill asks for."""
        self._settles = drill.heel_settles
        self._minds_dives = drill.heel_settles or drill.strike_target is not None
        self._amiss = Amiss(rule)
        self._dives: deque[bool] = deque(maxlen=rule.steps)

    @property
    def key(self) -> str | None:
        """The sentence that is called for; None: none is."""
        return "let_heel_settle" if self._amiss.on or self.diving else None

    @property
    def diving(self) -> bool:
        """Whether the toe dived in on any of the last steps, in a drill that minds it."""
        return any(self._dives)

    def add(self, step: Step) -> None:
        """Take a step of the drill; one whose foot was not seen does not count."""
        if step.toe_dive is None or not self._minds_dives:
            return
        self._dives.append(step.toe_dive)
        if self._settles:
            self._amiss.add(step.toe_dive or step.heel_down_s is None)


class Amiss:
    """Whether most of the last ones were not as asked; steady, since both ways take as many."""

    def __init__(self, rule: PostureRule) -> None:
        """Begin with none."""
        self._last: deque[bool] = deque(maxlen=rule.steps)
        self._many = rule.amiss
        self.on = False

    def add(self, amiss: bool) -> None:
        """Take one more."""
        self._last.append(amiss)
        bad = sum(self._last)
        if bad >= self._many:
            self.on = True
        elif len(self._last) - bad >= self._many:
            self.on = False


@dataclass(slots=True)
class _Untouched:
    """Bounce at one belt setting with the runner left alone, metres."""

    belt: Belt
    bounce_m: list[float] = field(default_factory=list)


class Bounce:
    """Up and down travel against the runner's own at the same belt setting, over a session."""

    def __init__(self, rule: PostureRule) -> None:
        """Begin with no baseline."""
        self._rule = rule
        self._untouched: list[_Untouched] = []
        self._recent_m: deque[float] = deque(maxlen=rule.bounce_steps)
        self._belt: Belt | None = None
        self._reference_m: float | None = None
        self.on = False
        """Whether it is well above the baseline's now."""

    def start_drill(self) -> None:
        """Begin a drill; the baselines stay."""
        self._forget()
        self._belt = None

    def _forget(self) -> None:
        self._recent_m.clear()
        self.on = False

    def add(self, step: Step, drill: Drill, belt: Belt | None) -> None:
        """Take a step at what the belt is set to."""
        bounce_m, change_m = step.vertical_oscillation_m, self._rule.bounce_change_m
        if bounce_m is None or change_m is None or belt is None or drill.kind != "run":
            return
        if drill.gives_baseline:
            self._taken(belt).bounce_m.append(bounce_m)
            return
        if belt != self._belt:
            self._forget()
            self._belt, self._reference_m = belt, self._baseline_m(belt)
        self._recent_m.append(bounce_m)
        reference_m = self._reference_m
        if reference_m is None or len(self._recent_m) < self._rule.bounce_steps:
            return
        over_m = median(self._recent_m) - reference_m
        limit_m = max(change_m, (self._rule.bounce_share - 1.0) * reference_m)
        if over_m > limit_m:
            self.on = True
        elif over_m < limit_m / 2.0:
            self.on = False

    def _taken(self, belt: Belt) -> _Untouched:
        found = next((one for one in self._untouched if same_belt(one.belt, belt)), None)
        if found is None:
            found = _Untouched(belt)
            self._untouched.append(found)
        return found

    def _baseline_m(self, belt: Belt) -> float | None:
        known: Iterable[_Untouched] = (o for o in self._untouched if same_belt(o.belt, belt))
        values = [m for one in known for m in one.bounce_m]
        return median(values) if len(values) >= self._rule.bounce_steps else None
