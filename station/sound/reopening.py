"""A sound device that is gone: time goes on without it until it is back, and the beat with it.

While a device is away the mixer's samples go on at the pace of the session's clock, unheard, so
the screen's pulse stays in place. A stream that opens again first plays silence until its clock is
known; then the mixer's samples are laid onto it so that each sounds when it would have sounded.
"""

from __future__ import annotations

import math
import threading
from collections import deque
from collections.abc import Callable
from statistics import median

from station.errors import DeviceTrouble
from station.sound.desk import Desk
from station.sound.portaudio_stream import Stream
from station.sound.tones import SAMPLE_RATE_HZ

RETRY_S = (1.0, 2.0, 4.0, 8.0, 10.0)
"""Waits before the tries; the last one from then on."""
_AGREE = 12  # blocks whose times agree make a clock
_AGREE_S = 0.004
_SEEN_S = 0.25  # the first blocks only fill the buffer

Aside = Callable[[Callable[[], None]], None]


def in_thread(work: Callable[[], None]) -> None:
    """Run `work` beside the loop; a device may hang, so nothing waits for it."""
    threading.Thread(target=work, name="sound-open", daemon=True).start()


class StreamRun:
    """One opened stream and which of the mixer's samples it plays. Shared by two threads."""

    def __init__(self, shift: int | None) -> None:
        """Begin at the stream's sample 0.

        Args:
            shift: The mixer's sample at the stream's sample 0; None: silence until it is set.
        """
        self.shift = shift
        self.sent = 0
        """Samples given to the stream; the audio thread's."""
        self._seen: deque[tuple[int, float]] = deque(maxlen=_AGREE)
        self._first_s: float | None = None

    def note(self, t_s: float) -> None:
        """Take down that the next sample is told to sound at `t_s`; for the audio thread."""
        if self._first_s is None:
            self._first_s = t_s
        self._seen.append((self.sent, t_s))

    def begins_s(self) -> float | None:
        """Return when the stream's sample 0 sounded, session clock; None: not known yet."""
        seen = list(self._seen)
        if len(seen) < _AGREE or self._first_s is None or seen[-1][1] < self._first_s + _SEEN_S:
            return None
        begins = [t_s - sample / SAMPLE_RATE_HZ for sample, t_s in seen]
        return median(begins) if max(begins) - min(begins) <= _AGREE_S else None


class Away:
    """The time without a device, from its loss to its return. Used by the loop's thread."""

    def __init__(
        self,
        desk: Desk,
        since_s: float,
        open_again: Callable[[], tuple[StreamRun, Stream]] | None,
        aside: Aside,
        at_once: bool = False,
    ) -> None:
        """Begin at the loss.

        Args:
            desk: Goes on with its mixer; the audio thread has let go of both.
            since_s: The loss, session clock.
            open_again: Opens and starts a stream that is silent; DeviceTrouble where it cannot.
                None: nothing is tried.
            aside: Runs it.
            at_once: Try now: the device is there, only to be opened otherwise.
        """
        self.since_s = since_s
        self.at_once = at_once
        self.tries = 0
        self._desk = desk
        self._open_again = open_again
        self._aside = aside
        self._next_s = since_s if at_once else since_s + RETRY_S[0]
        self._trying = False
        self._opened: tuple[StreamRun, Stream] | None = None

    def attend(self, now_s: float, latency_s: float) -> tuple[StreamRun, Stream] | None:
        """Go on with time, and with trying.

        Returns:
            The stream that is back, its `shift` not yet set; None: there is none yet.
        """
        mixer = self._desk.mixer
        ahead_s = now_s + latency_s - self._desk.sounds_at(mixer.cursor)
        if ahead_s > 0.0:
            mixer.skip(math.ceil(ahead_s * SAMPLE_RATE_HZ))
        if self._opened is not None:
            return self._opened
        if self._open_again is not None and not self._trying and now_s >= self._next_s:
            self._trying = True
            self._next_s = now_s + RETRY_S[min(self.tries + 1, len(RETRY_S) - 1)]
            self.tries += 1
            self._aside(self._try)
        return self._opened

    @property
    def opened_stream(self) -> Stream | None:
        """The stream that has opened, if one has."""
        return None if self._opened is None else self._opened[1]

    def gave_way(self) -> None:
        """Take note that what had opened is lost again."""
        self._opened = None

    def _try(self) -> None:
        try:
            if self._open_again is not None:
                self._opened = self._open_again()
        except DeviceTrouble:
            pass  # the next try may do
        finally:
            self._trying = False


def shift_of(desk: Desk, begins_s: float) -> int:
    """Return which of the mixer's samples belongs to sample 0 of a stream begun at `begins_s`.

    Args:
        desk: Its clock says when the mixer's samples sound.
        begins_s: When the stream's sample 0 sounded, session clock.
    """
    cursor = desk.mixer.cursor
    line_s = desk.sounds_at(cursor) - cursor / SAMPLE_RATE_HZ
    return round((begins_s - line_s) * SAMPLE_RATE_HZ)
