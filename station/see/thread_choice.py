"""Choose one or two inference threads by what they take here and now.

On a machine with a free second core, two threads take 0.6 of the time of one. Where other programs
want the cores too, two threads wait for each other by spinning: with five other programs on two
cores a frame took 680 ms on two threads, against 50 to 110 ms on one. What a frame takes is
therefore watched, and the other way tried when two threads are slow.
"""

from __future__ import annotations

from collections import deque
from statistics import median

SLOW_S = 0.040
"""Two threads that take longer than this are worth a trial of one."""
STALLED_S = 0.5
"""So much lost time, summed over the last frames, starts the trial at once."""
WATCHED = 8
TRIED = 5
FIRST_WAIT_S = 30.0
LONGEST_WAIT_S = 480.0


class ThreadChoice:
    """Says how many threads the next frame shall take; told what each frame took.

    A trial of the other way is kept when it is faster by a tenth; else it is not tried again for
    30 s, then 60 s, and so on. A trial of two threads ends with its first slow frame.
    """

    def __init__(self) -> None:
        """Begin with two threads."""
        self.threads = 2
        """For the next frame: 1 or 2."""
        self._last: deque[float] = deque(maxlen=WATCHED)
        self._rival_s: float | None = None  # what the other way took; not None: a trial
        self._not_before_s = float("-inf")
        self._wait_s = FIRST_WAIT_S

    def took(self, duration_s: float, now_s: float) -> None:
        """Take note of one frame that followed the last one (detecting takes longer).

        Args:
            duration_s: What it took with `threads`.
            now_s: When it was done, monotonic clock.
        """
        self._last.append(duration_s)
        if self._rival_s is not None:
            self._judge_trial(self._rival_s, now_s)
        elif now_s >= self._not_before_s:
            if self.threads == 1:
                if len(self._last) == WATCHED:
                    self._change(median(self._last))
            elif self._two_are_slow():
                self._change(median(self._last))

    def _two_are_slow(self) -> bool:
        lost_s = sum(duration_s - SLOW_S for duration_s in self._last)
        full = len(self._last) == WATCHED
        return lost_s > STALLED_S or (full and median(self._last) > SLOW_S)

    def _judge_trial(self, rival_s: float, now_s: float) -> None:
        hopeless = self.threads == 2 and self._last[-1] > 1.5 * rival_s
        if len(self._last) < TRIED and not hopeless:
            return
        self._rival_s = None
        if not hopeless and median(self._last) < 0.9 * rival_s:
            self._wait_s = FIRST_WAIT_S
        else:
            self._change(None)
            self._wait_s = min(2.0 * self._wait_s, LONGEST_WAIT_S)
        self._not_before_s = now_s + self._wait_s

    def _change(self, rival_s: float | None) -> None:
        self.threads = 3 - self.threads
        self._rival_s = rival_s
        self._last.clear()
