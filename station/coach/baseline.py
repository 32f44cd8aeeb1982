"""The runner's baselines of this session, one per belt setting.

Landings are only compared at the same belt speed and incline (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from station.coach.plan import Drill
from station.coach.verdict import (
    DEFAULT_LIMIT_RULE,
    DEFAULT_RULE,
    Baseline,
    LimitRule,
    VerdictRule,
    baseline_from,
)
from station.values import Belt, Landing

SAME_SPEED_MPS = 0.03
"""Belt settings closer than this are the same one (0.1 mph is 0.045 m/s, 0.1 km/h is 0.028 m/s)."""
SAME_INCLINE_PERCENT = 0.5


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
    ) -> None:
        """Begin with what is known of the runner.

        Args:
            known: Baselines of earlier visits; a baseline of this session goes before them.
            rule: Which landings count.
            limit_rule: How many landings a baseline takes.
        """
        self._known = tuple(known)
        self._rule = rule
        self._limit_rule = limit_rule
        self._taken: list[_Taken] = []

    def add(self, landing: Landing, drill: Drill, belt: Belt | None) -> None:
        """Take one landing of any drill; it counts only where the runner was left alone.

        Once the runner has been coached at a belt setting, its baseline stands: a later drill
        without feedback tests what was kept, and must not move the limit.

        Args:
            landing: In order of time.
            drill: The drill that it was made in.
            belt: What the belt is set to now (the coach may have changed it); None: it stands.
        """
        if belt is None or drill.kind == "rest":
            return
        taken = self._find(belt)
        if not drill.gives_baseline:
            if taken is not None:
                taken.closed = True
            return
        if taken is None:
            taken = _Taken(belt)
            self._taken.append(taken)
        if not taken.closed:
            taken.landings.append(landing)

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
        if taken.made is None or taken.made_of != len(taken.landings):
            taken.made_of = len(taken.landings)
            taken.made = baseline_from(taken.landings, taken.belt, self._rule, self._limit_rule)
        return taken.made


@dataclass(slots=True)
class _Taken:
    """The untouched landings at one belt setting, and the baseline last made of them."""

    belt: Belt
    landings: list[Landing] = field(default_factory=list)
    closed: bool = False
    made: Baseline | None = None
    made_of: int = 0


def _useful(baseline: Baseline) -> bool:
    legs = (baseline.left, baseline.right)
    return baseline.step_rate_spm is not None or any(leg is not None for leg in legs)
