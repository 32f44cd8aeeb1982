"""Counts the hops of a drill by rounds, foot by foot.

Only what came down on the foot whose turn it is counts. What the camera may get wrong is told and
does not upset the count: a contact that follows too soon is the same one again, and a hop that was
not seen is made up for when the runner, who has counted it, changes feet.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from station.coach.scene import HopStatus
from station.values import Side, other

AGAIN_S = 0.15
"""A contact so soon after the one before is no hop of its own: both feet came down, or one contact
was told twice. Hops come at 2 to 3.5 a second (common practice, no source)."""
LONG_HOPS = 3.5
"""A gap longer than so many hops is a runner who stopped, not hops that were not seen."""
_USUAL_OF = 8


@dataclass(frozen=True, slots=True)
class HopNote:
    """Something about a hop that is to be told."""

    kind: str
    """`hop not counted` or `hop not seen`."""
    why: str
    side: Side


class HopCounter:
    """Goes through the rounds. Used by one thread."""

    def __init__(self, hops: Sequence[int], first_foot: Side) -> None:
        """Begin the first round.

        Args:
            hops: Per round, how many on each foot, each 1 or more.
            first_foot: The foot that each round begins with.
        """
        second = other(first_foot)
        self._sets = [(foot, n) for n in hops for foot in (first_foot, second)]
        self._at = 0
        self._on_foot = 0
        self._last_s: float | None = None
        self._gaps_s: deque[float] = deque(maxlen=_USUAL_OF)
        self._unseen = 0
        self._astray = False  # the last contact was of the wrong foot
        self.counted = 0
        """Hops of both feet so far, those made up for included."""
        self.wrong_foot = 0
        self.doubled = 0
        self.not_seen = 0

    @property
    def done(self) -> bool:
        """Whether the last round is over."""
        return self._at >= len(self._sets)

    @property
    def status(self) -> HopStatus | None:
        """Which foot now, and how many hops are left on it; None once done."""
        if self.done:
            return None
        foot, n = self._sets[self._at]
        return HopStatus(foot, n - self._on_foot, self._at // 2 + 1, len(self._sets) // 2)

    def stand(self) -> None:
        """Note that time stood still: the gap to the next contact says nothing."""
        self._last_s = None

    def land(self, side: Side, t_s: float) -> tuple[HopNote, ...]:
        """Take one contact, in order of time.

        Returns:
            What is to be told of it; nothing where it counted as it should.
        """
        if self.done:
            return ()
        gap_s = None if self._last_s is None else t_s - self._last_s
        if gap_s is not None and gap_s < AGAIN_S:
            self.doubled += 1
            return (HopNote("hop not counted", "two contacts at once", side),)
        self._last_s = t_s
        if gap_s is not None:
            self._take_gap(gap_s)
        foot, n = self._sets[self._at]
        left = n - self._on_foot
        notes: list[HopNote] = []
        if side != foot and 0 < left <= self._unseen:
            notes = [HopNote("hop not seen", "the feet changed after a gap", foot)] * left
            self.not_seen += left
            spare = self._unseen - left  # missed across the change of feet: the new foot's
            for _ in range(left):
                self._count()
            self._unseen, foot = spare, side
        if self.done:
            return tuple(notes)
        if side != foot:
            self.wrong_foot += 1
            if not self._astray:  # one note however long the runner stays on it
                notes.append(HopNote("hop not counted", "wrong foot", side))
            self._astray = True
            return tuple(notes)
        self._astray = False
        self._count()
        return tuple(notes)

    def _count(self) -> None:
        self.counted += 1
        self._on_foot += 1
        if self._on_foot >= self._sets[self._at][1]:
            self._at, self._on_foot, self._unseen = self._at + 1, 0, 0

    def _take_gap(self, gap_s: float) -> None:
        usual_s = median(self._gaps_s) if len(self._gaps_s) >= 2 else None
        if usual_s is None or gap_s <= 1.5 * usual_s:
            self._gaps_s.append(gap_s)
        elif gap_s <= LONG_HOPS * usual_s:
            self._unseen += round(gap_s / usual_s) - 1
        else:
            self._unseen = 0
