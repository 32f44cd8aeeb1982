"""Counts a drill's verdicts per leg, and says when its mastery gate is met.

All but the last part of the gate's time may be run with cues. When everything holds over that, the
last part is run without: only what holds then, too, is the runner's own.
"""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass
from statistics import median
from typing import Literal

from station.coach.plan import Gate
from station.values import Side, Verdict

SIDES: tuple[Side, Side] = ("left", "right")
LEAST_TO_FAIL = 5
"""Judged landings of a leg in the proof before it may be given up early."""
PART_OF_LANDINGS = 0.75
"""Of the gate's landings that fall upon a part of its time by its length, so many must be there."""
Turn = Literal["proving", "proof failed", "mastered"]


@dataclass(slots=True)
class _Counted:
    """One judged landing."""

    number: int
    at_s: float
    side: Side
    within: bool


class Mastery:
    """The verdicts of one drill. Times are the drill's own."""

    def __init__(self, gate: Gate | None) -> None:
        """Begin a drill with its gate, if it has one."""
        self.gate = gate
        self._recent: deque[_Counted] = deque()
        self._rates: deque[tuple[float, float | None]] = deque()
        self._judged: dict[Side, int] = {"left": 0, "right": 0}
        self._within: dict[Side, int] = {"left": 0, "right": 0}
        self._proving_since_s: float | None = None
        self._again_s = -math.inf
        self.proofs_failed = 0

    @property
    def proving(self) -> bool:
        """Whether the last part runs, without cues."""
        return self._proving_since_s is not None

    def add(
        self,
        number: int,
        elapsed_s: float,
        side: Side,
        verdict: Verdict | None,
        rate_spm: float | None = None,
        target_spm: float | None = None,
    ) -> None:
        """Take one landing.

        Args:
            number: The landing's, by which a later finding names it.
            elapsed_s: Its time in the drill.
            side: Its foot.
            verdict: None: it could not be judged, and counts for the step rate only.
            rate_spm: Of this one step; None: not known.
            target_spm: What it is to be; None: the rate is free.
        """
        if verdict is not None:
            self._judged[side] += 1
            self._within[side] += verdict == "within"
        if self.gate is None:
            return
        if verdict is not None:
            self._recent.append(_Counted(number, elapsed_s, side, verdict == "within"))
        if target_spm is not None:
            share = None if rate_spm is None else rate_spm / target_spm
            self._rates.append((elapsed_s, share))
        from_s = elapsed_s - self.gate.seconds
        while self._recent and self._recent[0].at_s <= from_s:
            self._recent.popleft()
        while self._rates and self._rates[0][0] <= from_s:
            self._rates.popleft()

    def spoil(self, number: int) -> None:
        """Let a landing not count as good, for what was found later (a dive onto the toes)."""
        for one in self._recent:
            if one.number == number:
                one.within = False

    def turn(self, elapsed_s: float) -> Turn | None:
        """Look where the gate stands, after a landing.

        A leg that cannot be judged never meets it: the drill then ends at its length.

        Returns:
            What happened just now; None: nothing.
        """
        gate = self.gate
        if gate is None:
            return None
        uncued_s = min(gate.uncued_seconds, gate.seconds)
        cued_s = gate.seconds - uncued_s
        if self._proving_since_s is None:
            if elapsed_s < max(cued_s, self._again_s) or not self._holds(elapsed_s, cued_s):
                return None
            if uncued_s <= 0.0:
                return "mastered"
            self._proving_since_s = elapsed_s
            return "proving"
        proven_s = elapsed_s - self._proving_since_s
        if proven_s >= uncued_s - 1e-9 and (
            self._holds(elapsed_s, proven_s) and self._holds(elapsed_s, gate.seconds)
        ):
            return "mastered"
        if proven_s >= uncued_s - 1e-9 or self._lost(elapsed_s, proven_s, uncued_s):
            self._proving_since_s = None
            self.proofs_failed += 1
            # Cues come back for as long as a proof takes: a runner who still needs them gets them.
            self._again_s = elapsed_s + uncued_s
            return "proof failed"
        return None

    def leg(self, side: Side, elapsed_s: float) -> tuple[int, int]:
        """Return a leg's landings judged and within over the gate's time (without one: all)."""
        if self.gate is None:
            return self._judged[side], self._within[side]
        return self._count(side, elapsed_s, self.gate.seconds)

    def rate_held(self, elapsed_s: float) -> bool | None:
        """Return whether the rate holds over the gate's time; None: no target, or no rate known."""
        if self.gate is None:
            return None
        shares = self._shares(elapsed_s, self.gate.seconds)
        known = [share for share in shares if share is not None]
        return None if not known else abs(median(known) - 1.0) <= self.gate.rate_off + 1e-9

    def shares_within(self) -> tuple[tuple[Side, float], ...]:
        """Return each judged leg's share of landings within over the whole drill, 0 to 1."""
        return tuple((s, self._within[s] / self._judged[s]) for s in SIDES if self._judged[s])

    # --- within ---------------------------------------------------------------------------------

    def _count(self, side: Side, elapsed_s: float, seconds: float) -> tuple[int, int]:
        last = [c for c in self._recent if c.side == side and c.at_s > elapsed_s - seconds]
        return len(last), sum(c.within for c in last)

    def _shares(self, elapsed_s: float, seconds: float) -> list[float | None]:
        return [share for at_s, share in self._rates if at_s > elapsed_s - seconds]

    def _holds(self, elapsed_s: float, seconds: float) -> bool:
        """Whether each leg's share and the rate hold over the last `seconds`."""
        gate = self.gate
        if gate is None or seconds <= 0.0:
            return True
        share = seconds / gate.seconds
        if share < 1.0:  # of a part not quite its share: the whole must have them all in the end
            share *= PART_OF_LANDINGS
        least = max(1, math.ceil(gate.landings * share - 1e-9))
        for side in SIDES:
            judged, within = self._count(side, elapsed_s, seconds)
            if judged < least or within < gate.share * judged - 1e-9:
                return False
        shares = self._shares(elapsed_s, seconds)
        known = [share for share in shares if share is not None]
        if not shares:
            return True
        half = 2 * len(known) >= len(shares)
        return half and abs(median(known) - 1.0) <= gate.rate_off + 1e-9

    def _lost(self, elapsed_s: float, proven_s: float, uncued_s: float) -> bool:
        """Whether a leg has missed more in the proof than its whole length would allow."""
        if self.gate is None:
            return False
        for side in SIDES:
            judged, within = self._count(side, elapsed_s, proven_s)
            if judged < LEAST_TO_FAIL or proven_s <= 0.0:
                continue
            at_its_end = max(judged, judged * uncued_s / proven_s)
            if judged - within > (1.0 - self.gate.share) * at_its_end + 1e-9:
                return True
        return False
