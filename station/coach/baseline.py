"""The runner's baselines of this session, one per belt setting.

Landings are only compared at the same belt speed and incline (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from statistics import median

from station.coach.plan import Drill
from station.coach.verdict import (
    DEFAULT_LIMIT_RULE,
    DEFAULT_RULE,
    Baseline,
    LegBaseline,
    LimitRule,
    VerdictRule,
    baseline_from,
)
from station.values import Belt, Landing, Side, Step

SAME_SPEED_MPS = 0.03
"""Belt settings closer than this are the same one (0.1 mph is 0.045 m/s, 0.1 km/h is 0.028 m/s)."""
SAME_INCLINE_PERCENT = 0.5
MOST_STEP_S = 1.5
"""A longer time between two contacts was no running."""


def same_belt(one: Belt, two: Belt) -> bool:
    """Return whether two belt settings may be compared."""
    return (
        abs(one.speed_mps - two.speed_mps) <= SAME_SPEED_MPS
        and abs(one.incline_percent - two.incline_percent) <= SAME_INCLINE_PERCENT
    )


class Baselines:
    """Collects untouched landings and answers with the baseline at a belt setting."""

    def __init__(
        self,
        known: Iterable[Baseline] = (),
        rule: VerdictRule = DEFAULT_RULE,
        limit_rule: LimitRule = DEFAULT_LIMIT_RULE,
        settle_s: float = 0.0,
    ) -> None:
        """Begin with what is known of the runner.

        Args:
            known: Baselines of earlier visits; a baseline of this session goes before them.
            rule: Which landings count.
            limit_rule: How many landings a baseline takes.
            settle_s: So much time on the moving belt goes by, whatever the drill, before a landing
                counts: a novice takes about six minutes to settle on a treadmill.
        """
        self._settle_s = settle_s
        self._settled_s = 0.0
        self._last_s: float | None = None
        self._known = tuple(known)
        self._rule = rule
        self._limit_rule = limit_rule
        self._taken: list[_Taken] = []

    def add(self, landing: Landing, drill: Drill, belt: Belt | None) -> None:
        """Take one landing of any drill; it counts only where the runner was left alone.

        Where the runner was left alone in several drills at one belt setting the last of them
        counts: what came before it was settling. Once the runner has been coached there, the
        baseline stands: a later drill without feedback tests what was kept, and must not move the
        limit.

        Args:
            landing: In order of time.
            drill: The drill that it was made in.
            belt: What the belt is set to now (the coach may have changed it); None: it stands.
        """
        if belt is None or drill.kind == "rest":
            return
        self._settle(landing.t_contact_s)
        taken = self._find(belt)
        if not drill.gives_baseline:
            if taken is not None:
                taken.closed = True
            return
        if self._settled_s < self._settle_s:
            return
        if taken is None:
            taken = _Taken(belt)
            self._taken.append(taken)
        if not taken.closed:
            taken.add(landing, drill)

    def step(self, step: Step) -> None:
        """Take a final step; one whose landing counts gives its contact time."""
        for taken in self._taken:
            if step.number in taken.numbers and step.contact_s is not None:
                taken.contacts_s[step.side].append(step.contact_s)
                taken.made = None

    def _settle(self, t_s: float) -> None:
        if self._last_s is not None and 0.0 < t_s - self._last_s < MOST_STEP_S:
            self._settled_s += t_s - self._last_s
        self._last_s = t_s

    def at(self, belt: Belt | None) -> Baseline | None:
        """Return the baseline at a belt setting, None where there is none."""
        if belt is None:
            return None
        taken = self._find(belt)
        made = None if taken is None else self._made(taken)
        if made is not None and _useful(made):
            return made
        return next((known for known in self._known if same_belt(known.belt, belt)), None)

    def all(self) -> tuple[Baseline, ...]:
        """Return every baseline that this session gave, in the order of its belt settings."""
        return tuple(made for t in self._taken if _useful(made := self._made(t)))

    def _find(self, belt: Belt) -> _Taken | None:
        return next((taken for taken in self._taken if same_belt(taken.belt, belt)), None)

    def _made(self, taken: _Taken) -> Baseline:
        if taken.made is None:
            made = self._from(taken, taken.landings)
            if not _useful(made) and taken.settling:  # the later drill has hardly begun
                made = self._from(taken, taken.settling)
            taken.made = made
        return taken.made

    def _from(self, taken: _Taken, landings: list[Landing]) -> Baseline:
        made = baseline_from(landings, taken.belt, self._rule, self._limit_rule)
        return replace(
            made,
            left=_with_contact(made.left, taken.contacts_s["left"]),
            right=_with_contact(made.right, taken.contacts_s["right"]),
        )


@dataclass(slots=True)
class _Taken:
    """The untouched landings at one belt setting, and the baseline last made of them."""

    belt: Belt
    drill: Drill | None = None
    landings: list[Landing] = field(default_factory=list)
    """Of this drill."""
    settling: list[Landing] = field(default_factory=list)
    """Of the drill before it."""
    numbers: set[int] = field(default_factory=set)
    contacts_s: dict[Side, list[float]] = field(default_factory=lambda: {"left": [], "right": []})
    closed: bool = False
    made: Baseline | None = None

    def add(self, landing: Landing, drill: Drill) -> None:
        """Take a landing; another drill's begin anew."""
        if drill != self.drill:
            self.drill, self.settling, self.landings = drill, self.landings, []
            self.numbers = set()
            self.contacts_s = {"left": [], "right": []}
        self.landings.append(landing)
        self.numbers.add(landing.number)
        self.made = None


def _with_contact(leg: LegBaseline | None, contacts_s: list[float]) -> LegBaseline | None:
    if leg is None or not contacts_s:
        return leg
    return replace(leg, contact_s=median(contacts_s))


def _useful(baseline: Baseline) -> bool:
    legs = (baseline.left, baseline.right)
    return baseline.step_rate_spm is not None or any(leg is not None for leg in legs)
