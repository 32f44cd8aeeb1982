"""One opening of a sound device: which of the mixer's samples each of its own samples is.

A device counts from 0 each time that it is opened. The first opening plays the mixer's stream from
its first sample on. A later one is silent at first, until it is known when its samples sound; then
it is told which of the mixer's samples is due at that instant, and plays on from there: the beat
comes back where it would be had the device never gone.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from station.clock import Clock
from station.sound.desk import Desk
from station.sound.device_clock import DeviceClock

_SETTLE_MIN_S = 0.1
_SETTLE_MAX_S = 3.0
_SEEN_MAX = 1024
_LOCK_MAX_S = 0.2


class Outlet:
    """Leads the mixer's samples into a device, from the right one on.

    The audio thread calls `observe` and `fill`; the loop's thread calls the rest. While an outlet
    has its place, it alone drives the mixer; without, the loop's thread does.
    """

    def __init__(
        self,
        desk: Desk,
        clock: Clock,
        new_clock: Callable[[float], DeviceClock],
        recent_s: float,
        warm_s: float,
        at: int | None = None,
    ) -> None:
        """Stand before the device's first sample.

        Args:
            desk: Whose mixer is played.
            clock: The session's.
            new_clock: Makes a device's clock from a guess of when its sample 0 sounds.
            recent_s: Asked for samples so lately, the device runs.
            warm_s: A device opened again is listened to for so long before it plays.
            at: The mixer's sample that is the device's first; None: silent until placed.
        """
        self.underflows = 0
        self.fault: BaseException | None = None
        """What the audio thread met, if anything."""
        self.proven = at is not None
        """Whether it has played."""
        self.called_s = clock.now_s()
        """When the device last asked for samples, session clock."""
        self.desk = desk
        """Whose mixer is played."""
        self._clock = clock
        self._new_clock = new_clock
        self._recent_s = recent_s
        self._warm_s = warm_s
        self._at = at
        self._ended = False
        self._count = 0
        self._lock = threading.Lock()
        self._seen: deque[tuple[int, float]] = deque(maxlen=_SEEN_MAX)
        self._warm: DeviceClock | None = None
        self._warm_from_s = 0.0

    # --- the audio thread -----------------------------------------------------------------------

    @property
    def count(self) -> int:
        """How many samples the device was given: the number of its next one."""
        return self._count

    def observe(self, number: int, t_s: float) -> None:
        """Note that the device's sample `number` will sound at session time `t_s`."""
        if self._at is None:
            self._seen.append((number, t_s))
        else:
            self.desk.observe(number, t_s)

    def fill(self, out: NDArray[np.float32]) -> None:
        """Fill the device's next block, (n, 2), overwritten whole."""
        with self._lock:
            number = self._count
            self._count += len(out)
            if self._at is None or self._ended or self.fault is not None:
                out.fill(0.0)
            else:
                self._render(out, self._at + number)

    def _render(self, out: NDArray[np.float32], due: int) -> None:
        """Render from the mixer's sample `due` on."""
        mixer = self.desk.mixer
        behind = due - mixer.cursor
        if behind > 0:
            mixer.skip(behind)
        silent = min(len(out), max(0, -behind))  # what the loop's thread has placed already
        out[:silent] = 0.0
        if silent < len(out):
            mixer.render(out[silent:])

    # --- the loop's thread ----------------------------------------------------------------------

    @property
    def placed(self) -> bool:
        """Whether it plays the mixer's stream."""
        return self._at is not None

    def settle(self, gone: Callable[[], bool]) -> None:
        """Wait, bounded, until the device's clock is known: the first blocks only fill its buffer.

        Args:
            gone: Whether there is nothing left to wait for.
        """
        clock = self._clock
        start_s = clock.now_s()
        while (now_s := clock.now_s()) < start_s + _SETTLE_MAX_S:
            running = now_s > start_s + _SETTLE_MIN_S and now_s - self.called_s < self._recent_s
            if self.fault is not None or gone() or (self.desk.learn().settled and running):
                break
            clock.wait_until(now_s + 0.01, 0.01)
        self.underflows = 0  # those of getting going were not heard

    def place(self) -> bool:
        """Take its place in the stream once the device's clock is known.

        Until now the desk tells when each of the mixer's samples is due: as the device that played
        before would have it.

        Returns:
            Whether it plays from now on.
        """
        now_s = self._clock.now_s()
        for _ in range(len(self._seen)):
            number, t_s = self._seen.popleft()
            if self._warm is None:
                self._warm, self._warm_from_s = self._new_clock(t_s), now_s
            self._warm.observe(number, t_s)
        warm = self._warm
        if warm is None or not warm.settled or now_s - self._warm_from_s < self._warm_s:
            return False
        if now_s - self.called_s >= self._recent_s:
            return False
        number = self._count
        at = round(self.desk.sample_at(warm.at(number))) - number
        self.desk.take_over(warm, at)
        self._warm = None
        self.underflows = 0  # those of getting going were not heard
        self._at = at
        self.proven = True
        return True

    def move(self, by: int) -> None:
        """Play on `by` samples further on in the stream: the device came to be so late."""
        if self._lock.acquire(timeout=_LOCK_MAX_S):
            if self._at is not None:
                self._at += by
                self.desk.place += by
            self._lock.release()

    def unplace(self) -> None:
        """Play silence from now on, and learn the device's clock anew."""
        self._give_up_mixer()
        self._seen.clear()
        self._warm = None

    def end(self) -> None:
        """Play silence for good: what follows has the mixer."""
        self._give_up_mixer()
        self._ended = True

    def _give_up_mixer(self) -> None:
        # A block being rendered is waited for; one that never ends is no reason to stand still.
        held = self._lock.acquire(timeout=_LOCK_MAX_S)
        self._at = None
        if held:
            self._lock.release()
