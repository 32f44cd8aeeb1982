"""The question after a drill: how many of ten landings were good, before the count is shown."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from station.coach.scene import FeltStatus
from station.values import Verdict

ASKED_S = 20.0
"""How long the question stands."""
SHOWN_S = 4.0
"""How long the true count stands beside the answer."""
OF_LAST = 10


@dataclass(slots=True)
class FeltQuestion:
    """One question, its answer, and the truth of the drill."""

    number: int
    """The drill that it is about, from 1."""
    within: int
    """Of the drill's judged landings."""
    judged: int
    last: tuple[int, int]
    """Of the last ten judged landings: how many within, of how many."""
    ends_s: float
    """In its own time, which stands still in a pause: when the session goes on."""
    answer: int | None = None
    """0 to 10; None: none."""

    @classmethod
    def about(cls, number: int, verdicts: Sequence[Verdict]) -> FeltQuestion:
        """Ask about a drill with these judged landings, in order."""
        last = verdicts[-OF_LAST:]
        return cls(
            number,
            sum(v == "within" for v in verdicts),
            len(verdicts),
            (sum(v == "within" for v in last), len(last)),
            ASKED_S,
        )

    @property
    def share_within(self) -> float | None:
        """The true share of the whole drill; None: nothing was judged."""
        return self.within / self.judged if self.judged else None

    @property
    def status(self) -> FeltStatus:
        """What the screen shows; the truth only beside an answer."""
        within, judged = self.last
        told = within if self.answer is not None and judged else None
        return FeltStatus(self.answer, None, told, judged)

    def take(self, good_of_ten: int, elapsed_s: float) -> bool:
        """Take the answer; return whether it was taken (the first one, 0 to 10)."""
        if self.answer is not None or not 0 <= good_of_ten <= 10:
            return False
        self.answer = good_of_ten
        self.ends_s = elapsed_s + SHOWN_S
        return True
