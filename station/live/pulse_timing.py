"""When to draw so that the screen's pulse comes with the beat.

A picture takes its time to be painted and shown, and pictures come when the camera's do: a pulse
that waits for the first picture after its beat is late by all of that. So a picture is drawn for
the instant at which it will be seen, and where none is due near a beat, the newest is drawn again.
On stream time drawing takes no time, and nothing here changes anything.
"""

from __future__ import annotations

from collections import deque
from statistics import median

from station.live.beats import BeatLog

EARLY_S = 0.005
"""A picture that will be seen this little before a beat shows it already: the next comes later."""
STILL_S = 0.08
"""While a beat sounds the pulse moves on at least so often, also when no picture comes: else a disc
would stay lit from one beat to the next."""
_DRAWS = 15


class PulseTiming:
    """Keeps how long drawing takes and which beat has been drawn. Used by the loop's thread."""

    def __init__(self, beats: BeatLog) -> None:
        """Begin before the first picture.

        Args:
            beats: Those heard, and those fixed for the coming instants.
        """
        self._beats = beats
        self._draws_s: deque[float] = deque(maxlen=_DRAWS)
        self._drawn_until_s = float("-inf")  # beats up to here are on the screen
        self._ended_s = float("-inf")

    @property
    def ahead_s(self) -> float:
        """How far after now the picture that is begun now stands for."""
        if not self._draws_s:
            return 0.0
        taken_s = median(self._draws_s)
        return taken_s + EARLY_S if taken_s > 0.0 else 0.0

    def drawn(self, begun_s: float, ended_s: float) -> None:
        """Take note of one drawing, session clock; it stood for `begun_s` and `ahead_s`."""
        self._drawn_until_s = begun_s + self.ahead_s
        self._draws_s.append(ended_s - begun_s)
        self._ended_s = ended_s

    def wait_s(self, now_s: float, longest_s: float) -> float:
        """Return how long the loop may wait for a pose, so that the next beat is drawn in time."""
        beat_s = self._beats.next_s(self._drawn_until_s)
        if beat_s is None:
            return longest_s
        # Half of what is allowed too early: then the picture stands for the beat itself.
        draw_s = min(beat_s - self.ahead_s + 0.5 * EARLY_S, self._ended_s + STILL_S)
        return min(longest_s, max(0.0, draw_s - now_s))

    def holds(self, now_s: float) -> bool:
        """Whether a picture begun now would keep the next beat from being drawn in time."""
        beat_s = self._beats.next_s(self._drawn_until_s)
        if beat_s is None or not self.ahead_s:
            return False
        return 0.0 < beat_s - self.ahead_s - now_s < median(self._draws_s)

    def due(self, now_s: float) -> bool:
        """Whether the newest picture is to be drawn again now: for a beat, or for its pulse."""
        beat_s = self._beats.next_s(self._drawn_until_s)
        if beat_s is None or not self.ahead_s:
            return False
        return beat_s <= now_s + self.ahead_s or now_s >= self._ended_s + STILL_S
