"""Feeds one opening of pygame's mixer: one chunk plays, one waits, on a thread of its own."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

import numpy as np

from station.sound.outlet import Outlet
from station.sound.tones import SAMPLE_RATE_HZ

POLL_S = 0.004


class Feeder:
    """Keeps the mixer's channel in samples of an outlet. `run` is its thread's."""

    def __init__(
        self, outlet: Outlet, channel: Any, chunk: int, make_sound: Callable[[bytes], Any],
        is_open: Callable[[], bool], now: Callable[[], float],
    ) -> None:  # fmt: skip
        """Stand before the first chunk.

        Args:
            outlet: Gives the samples.
            channel: pygame's channel that plays.
            chunk: Samples at a time.
            make_sound: Makes what the channel plays of raw samples.
            is_open: Whether the mixer is.
            now: The session's clock.
        """
        self._outlet = outlet
        self._channel = channel
        self._make_sound = make_sound
        self._is_open = is_open
        self._now = now
        self._ended = threading.Event()
        self._idle = False  # the channel was idle when it was asked last
        self._block = np.empty((chunk, 2), dtype=np.float32)
        self._delay_s = chunk / SAMPLE_RATE_HZ  # two buffers of half a chunk

    def end(self) -> None:
        """Let `run` come to its end."""
        self._ended.set()

    def run(self) -> None:
        """Keep one chunk playing and one waiting until told to end."""
        try:
            waiting = self.begin()
            while not self._ended.wait(POLL_S):
                if not self._is_open():
                    raise RuntimeError("the mixer was closed")
                waiting = self.feed_once(waiting)
        except BaseException as error:  # the loop's thread is told
            if not self._ended.is_set():
                self._outlet.fault = error

    def begin(self) -> int:
        """Play one chunk and queue the next; return the first sample of that."""
        self._channel.play(self._next_chunk())
        waiting = self._outlet.count
        self._channel.queue(self._next_chunk())
        return waiting

    def feed_once(self, waiting: int) -> int:
        """Queue a chunk where the one waiting has begun, and note when it did.

        Args:
            waiting: First sample of the chunk that was queued last.

        Returns:
            First sample of the chunk that is queued now.
        """
        if self._channel.get_queue() is not None:
            return waiting
        outlet, now_s = self._outlet, self._now()
        if not self._channel.get_busy():
            if not self._idle:
                # SDL calls a channel idle for a moment between its two chunks: to play another one
                # in that moment would throw away the one that has waited. So it is asked again.
                self._idle = True
                return waiting
            self._idle = False
            outlet.underflows += 1  # both have run out: a gap was heard
            outlet.observe(outlet.count, now_s + self._delay_s)
            return self.begin()
        self._idle = False
        outlet.observe(waiting, now_s - POLL_S / 2 + self._delay_s)
        waiting = outlet.count
        self._channel.queue(self._next_chunk())
        return waiting

    def _next_chunk(self) -> Any:
        self._outlet.fill(self._block)
        self._outlet.called_s = self._now()
        return self._make_sound(self._block.tobytes())
