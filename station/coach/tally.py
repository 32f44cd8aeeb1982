"""Counts a drill's verdicts per leg, and says when its mastery gate is met."""

from __future__ import annotations

from collections import deque

from station.coach.plan import Gate
from station.values import Side, Verdict

LEAST_LANDINGS = 5
"""Judged landings of each leg in the gate's time; fewer prove nothing."""

SIDES: tuple[Side, Side] = ("left", "right")


class GateTally:
    """The verdicts of one drill."""

    def __init__(self, gate: Gate | None) -> None:
        """Begin a drill with its gate, if it has one."""
        self._gate = gate
        self._recent: deque[tuple[float, Side, bool]] = deque()
        self._judged: dict[Side, int] = {"left": 0, "right": 0}
        self._within: dict[Side, int] = {"left": 0, "right": 0}

    def add(self, elapsed_s: float, side: Side, verdict: Verdict | None) -> None:
        """Take one landing at its time in the drill; without a verdict it does not count."""
        if verdict is None:
            return
        self._judged[side] += 1
        self._within[side] += verdict == "within"
        if self._gate is not None:
            self._recent.append((elapsed_s, side, verdict == "within"))
            while self._recent and self._recent[0][0] <= elapsed_s - self._gate.seconds:
                self._recent.popleft()

    def met(self, elapsed_s: float) -> bool:
        """Return whether each leg held the gate's share over its whole time, at `elapsed_s`.

        A leg that cannot be judged never meets it: the drill then ends at its length.
        """
        if self._gate is None or elapsed_s < self._gate.seconds:
            return False
        for side in SIDES:
            good = [
                within
                for at_s, of, within in self._recent
                if of == side and at_s > elapsed_s - self._gate.seconds
            ]
            if len(good) < LEAST_LANDINGS or sum(good) < self._gate.share * len(good) - 1e-9:
                return False
        return True

    def shares_within(self) -> tuple[tuple[Side, float], ...]:
        """Return each judged leg's share of landings within, 0 to 1."""
        return tuple((s, self._within[s] / self._judged[s]) for s in SIDES if self._judged[s])
