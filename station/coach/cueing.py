"""Which landings ahead are answered by a cue: the drill's schedule, without any sound or clock."""

from __future__ import annotations

from collections import deque
from random import Random

from station.coach.plan import Drill
from station.values import Side, Verdict

FADING_INTERVALS = (1, 2, 3, 4, 8)
"""A fading drill cues every landing that is ahead in its first fifth, then every second, third,
fourth and eighth one: 100, 50, 33, 25, 12 %.

Not the fifth one at the end: up to three uncued landings are carried over into the last fifth, and
with eight its first cue comes after five at the earliest. So at no time in the last fifth have more
than 20 % of its landings ahead been cued, however few there were."""
MEDIAN_OF = 3
"""Judged landings of a leg whose median a cue answers, where the drill says so."""
CUED_SCHEDULES = ("every step", "fading")


def fading_interval(share_done: float) -> int:
    """Return every how many ahead landings a fading drill cues.

    Args:
        share_done: How much of the drill is over, 0 to 1.

    Returns:
        1 (each one) up to the last of `FADING_INTERVALS`; never falls as the drill goes on, so the
        share of cues never rises.
    """
    stages = len(FADING_INTERVALS)
    return FADING_INTERVALS[min(stages - 1, int(max(0.0, share_done) * stages))]


class CueSchedule:
    """Says of each judged landing whether it is due a cue. Used by one thread."""

    def __init__(self, seed: int = 0) -> None:
        """Begin before the first drill.

        Args:
            seed: Of the draw that leaves cues out; the same seed gives the same draws.
        """
        self._random = Random(seed)
        self._drill: Drill | None = None
        self._recent: dict[Side, deque[Verdict]] = {}
        self._interval = 1
        self._since_cue = 0

    def start_drill(self, drill: Drill) -> None:
        """Begin a drill: nothing is carried over from the one before."""
        self._drill = drill
        self._recent = {"left": deque(maxlen=MEDIAN_OF), "right": deque(maxlen=MEDIAN_OF)}
        self._interval = 1
        self._since_cue = 0

    def due(self, side: Side, verdict: Verdict, share_done: float) -> bool:
        """Take a judged landing and say whether it is due a cue.

        A landing that is within is never due one, also where the median of its leg's last three
        is ahead: a cue must not answer a good landing.

        Args:
            side: The leg.
            verdict: Of the landing.
            share_done: How much of the drill is over, 0 to 1; one that falls (a corrected count)
                brings no cues back.
        """
        drill = self._drill
        if drill is None or drill.feedback not in CUED_SCHEDULES:
            return False
        last = self._recent[side]
        last.append(verdict)
        if verdict != "ahead":
            return False
        # The median of three is beyond the limit when two of the three are, each by its own error.
        if drill.cue_on == "median" and (len(last) < MEDIAN_OF or last.count("ahead") < 2):
            return False
        if drill.feedback == "every step":
            return True
        self._since_cue += 1
        interval = fading_interval(share_done)
        if interval > self._interval:
            # What the least gap between sounds held back must not be made good in a sparser part.
            self._since_cue = min(self._since_cue, self._interval)
            self._interval = interval
        return self._since_cue >= self._interval

    def answered(self) -> None:
        """Note that the landing that was due was cued, or its cue left out by the draw."""
        self._since_cue = 0

    def left_out(self) -> bool:
        """Draw whether a cue that is due is left out, by the drill's `withhold` share."""
        share = 0.0 if self._drill is None else self._drill.withhold
        return share > 0.0 and self._random.random() < share
