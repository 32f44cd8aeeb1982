"""Tells when a runner is asked for too much: more than half of the landings ahead, for a while."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

from station.values import Verdict


@dataclass(frozen=True, slots=True)
class OverloadRule:
    """When cues do no good any more, and when they may come back."""

    seconds: float = 20.0
    """Over so long a time ..."""
    share: float = 0.5
    """... more than this share of the judged landings must be ahead."""
    least: int = 10
    """Judged landings in that time; fewer prove nothing (7 to 10 a side: common practice, no
    source)."""
    back_seconds: float = 10.0
    """The landings are back when over so long a time ..."""
    back_share: float = 1.0 / 3.0
    """... at most this share is ahead: well under `share`, so that it does not come and go."""
    back_least: int = 5
    most_gap_s: float = 5.0
    """A longer time without a judged landing (a pause, a runner out of view) begins anew."""


DEFAULT_OVERLOAD_RULE = OverloadRule()


class Overload:
    """Watches the judged landings of one drill. Used by one thread; has no clock."""

    def __init__(self, rule: OverloadRule = DEFAULT_OVERLOAD_RULE) -> None:
        """Begin with nothing seen."""
        self._rule = rule
        self._since_s: float | None = None
        self._recent: deque[tuple[float, bool]] = deque()
        self.on = False
        """Whether the runner is asked for too much now."""

    def start_drill(self) -> None:
        """Forget the drill before: another task, another load."""
        self._begin_anew()
        self.on = False

    def _begin_anew(self) -> None:
        self._since_s = None
        self._recent.clear()

    def add(self, t_s: float, verdict: Verdict) -> None:
        """Take one judged landing.

        Args:
            t_s: Session clock, not falling.
            verdict: Of a leg that is answered.
        """
        if self._recent and t_s - self._recent[-1][0] > self._rule.most_gap_s:
            self._begin_anew()
        if self._since_s is None:
            self._since_s = t_s
        self._recent.append((t_s, verdict == "ahead"))
        while self._recent[0][0] < t_s - self._rule.seconds:
            self._recent.popleft()
        if self.on:
            if self._is_back(t_s):
                self.on = False
                self._begin_anew()  # the time that it took to get back is no new overload
        elif t_s - self._since_s >= self._rule.seconds:
            ahead = sum(one for _, one in self._recent)
            count = len(self._recent)
            # By more than one landing: where only one leg is ahead, it is half of them, and with an
            # odd count one more.
            self.on = count >= self._rule.least and ahead > self._rule.share * count + 1.0

    def _is_back(self, t_s: float) -> bool:
        last = [ahead for at_s, ahead in self._recent if at_s >= t_s - self._rule.back_seconds]
        enough = len(last) >= self._rule.back_least
        return enough and sum(last) <= self._rule.back_share * len(last)
