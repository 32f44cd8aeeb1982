"""When to draw so that the screen's pulse comes with the beat.

A picture takes its time to be painted and shown, and pictures come when the camera's do: a pulse
that waits for the first picture after its beat is late by all of that. So the pulse is drawn by
itself at its instant, which takes a tenth of the time; a picture that might not be done by then is
held back until after it; and every picture is drawn for the instant at which it will be seen.
On stream time drawing takes no time, and nothing here changes anything.
"""

from __future__ import annotations

from collections import deque
from statistics import median

from station.live.beats import BeatLog

EARLY_S = 0.004
"""The pulse is meant to be seen so long before its beat: whatever comes between makes it later."""
STILL_S = 0.08
"""While a beat sounds the pulse moves on at least so often, also when no picture comes: else a disc
would stay lit from one beat to the next."""
HELD_MOST_S = 0.06
"""Longer no picture is held back for a beat: on a machine so slow the runner must still be seen."""
TAKE_S = 0.010
"""Measuring and coaching a pose takes 1 ms, and up to so long where it ends a step."""
_DRAWS = 15
_SLOW_SHARE = 0.8  # of the last drawings: one in five may take longer than is allowed for


class PulseTiming:
    """Keeps how long drawing takes and which beat has been drawn. Used by the loop's thread."""

    def __init__(self, beats: BeatLog) -> None:
        """Begin before the first picture.

        Args:
            beats: Those heard, and those fixed for the coming instants.
        """
        self._beats = beats
        self._draws_s: deque[float] = deque(maxlen=_DRAWS)
        self._pulses_s: deque[float] = deque(maxlen=_DRAWS)
        self._drawn_until_s = float("-inf")  # beats up to here are on the screen
        self._ended_s = float("-inf")

    @property
    def ahead_s(self) -> float:
        """How far after now a picture that is begun now is seen."""
        return median(self._draws_s) if self._draws_s else 0.0

    @property
    def pulse_ahead_s(self) -> float:
        """How far after now a pulse drawn by itself now stands for."""
        return EARLY_S + (median(self._pulses_s) if self._pulses_s else 0.0)

    def drawn(self, begun_s: float, ended_s: float) -> None:
        """Take note of a picture, session clock; it stood for `begun_s` and `ahead_s`."""
        self._note(begun_s + self.ahead_s, ended_s)
        self._draws_s.append(ended_s - begun_s)

    def pulsed(self, begun_s: float, ended_s: float) -> None:
        """Take note of a pulse by itself; it stood for `begun_s` and `pulse_ahead_s`."""
        self._note(begun_s + self.pulse_ahead_s, ended_s)
        self._pulses_s.append(ended_s - begun_s)

    def wait_s(self, now_s: float, longest_s: float) -> float:
        """Return how long the loop may wait for a pose, so that the next beat is drawn in time."""
        beat_s = self._next_s()
        if beat_s is None:
            return longest_s
        draw_s = min(beat_s - self.pulse_ahead_s, self._ended_s + STILL_S)
        return min(longest_s, max(0.0, draw_s - now_s))

    def holds(self, now_s: float) -> bool:
        """Whether a picture begun now might keep the next beat's pulse from being in time."""
        beat_s = self._next_s()
        if beat_s is None:
            return False
        return beat_s - self.pulse_ahead_s - now_s < min(self._slow_s, HELD_MOST_S)

    def before_taking_s(self, now_s: float) -> float | None:
        """Return the instant of a pulse that would be late after one more pose; None: none."""
        beat_s = self._next_s()
        if beat_s is None:
            return None
        draw_s = beat_s - self.pulse_ahead_s
        return draw_s if draw_s - now_s < TAKE_S else None

    def due(self, now_s: float) -> bool:
        """Whether the pulse is to be drawn by itself now: for a beat, or to move on."""
        beat_s = self._next_s()
        if beat_s is None:
            return False
        # A hair's breadth: a wait may end that much too soon.
        soon = beat_s - self.pulse_ahead_s <= now_s + 1e-4
        return soon or now_s >= self._ended_s + STILL_S

    def _note(self, until_s: float, ended_s: float) -> None:
        self._drawn_until_s = max(self._drawn_until_s, until_s)
        self._ended_s = ended_s

    def _next_s(self) -> float | None:
        """Return the next beat that is not on the screen; None: nothing need be timed."""
        return self._beats.next_s(self._drawn_until_s) if self.ahead_s > 0.0 else None

    @property
    def _slow_s(self) -> float:
        """How long a picture takes now and then."""
        return sorted(self._draws_s)[int(_SLOW_SHARE * len(self._draws_s))]
