"""The runner's baselines of this session, one per belt setting.

Landings are only compared at the same belt speed and incline (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterable

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
        self._taken: list[tuple[Belt, list[Landing]]] = []

    def add(self, landing: Landing, drill: Drill, belt: Belt | None) -> None:
        """Take one landing; it counts only in a drill that leaves the runner alone.

        Args:
            landing: In order of time.
            drill: The drill that it was made in.
            belt: What the belt is set to now (the coach may have changed it); None: it stands.
        """
        if belt is None or not drill.gives_baseline:
            return
        for held, landings in self._taken:
            if same_belt(held, belt):
                landings.append(landing)
                return
        self._taken.append((belt, [landing]))

    def at(self, belt: Belt | None) -> Baseline | None:
        """Return the baseline at a belt setting, None where there is none."""
        if belt is None:
            return None
        for held, landings in self._taken:
            if same_belt(held, belt):
                made = baseline_from(landings, held, self._rule, self._limit_rule)
                if made.left is not None or made.right is not None:
                    return made
        return next((known for known in self._known if same_belt(known.belt, belt)), None)

    def all(self) -> tuple[Baseline, ...]:
        """Return every baseline that this session gave, in the order of its belt settings."""
        made = (baseline_from(t, b, self._rule, self._limit_rule) for b, t in self._taken)
        return tuple(b for b in made if b.left is not None or b.right is not None)
