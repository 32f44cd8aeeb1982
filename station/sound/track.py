"""Lays the stream of samples beside a film: its first sample is the first picture's instant.

What a device plays is counted by the device's own quartz; a film's time is the session's. Each
block is therefore put where the session's clock has it. Within a stretch of silence, of which there
is one between any two beats, samples are left out or put in as soon as the two have come apart by
`_FINE_S`, so that no tone is ever cut for it; a gap or a jump is followed at once.

Little is kept in memory: the last second before the first picture, what is so new that the
device's clock may still be learning of it, and what is ahead of the newest picture.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from station.sound.tones import SAMPLE_RATE_HZ
from station.sound.wav_file import WavFile

Samples = NDArray[np.float32]

BEFORE_S = 1.0
"""How much is kept while no picture has come."""
SETTLE_S = 0.5
"""How long a block waits before it is placed: a jump of the device's clock is known by then."""
AHEAD_S = 10.0
"""How far the sound may run ahead of the newest picture before it is written all the same."""
_WRITE_S = 0.25  # written at a time: what a killed program loses at most, beside what waits
_FINE_S = 0.0005  # off its place by so much, the sound is moved in the next silence
_FAR_S = 0.020  # by so much, at once


class SoundTrack:
    """Writes one file while the session goes on. Used by the loop's thread."""

    def __init__(
        self, path: Path, sounds_at: Callable[[int], float], rate_hz: int = SAMPLE_RATE_HZ
    ) -> None:
        """Wait for the first picture; the file is made when it comes.

        Args:
            path: The WAV file.
            sounds_at: Tells when a sample of the stream sounds, session seconds.
            rate_hz: Samples per second of the stream and of the file.
        """
        self.path = path
        self.fault: OSError | None = None
        """Why the file is not, or not wholly, written."""
        self.jumps = 0
        """How often the sound was moved at once, after the first block."""
        self._sounds_at = sounds_at
        self._rate_hz = rate_hz
        self._origin_s: float | None = None
        self._until = 0  # samples of the file that pictures stand beside
        self._file: WavFile | None = None
        self._new: deque[tuple[int, Samples]] = deque()  # not yet placed
        self._new_samples = 0
        self._placed: deque[Samples] = deque()  # not yet written
        self._placed_samples = 0
        self._end = 0  # of what is placed, in samples of the file
        self._next: int | None = None  # the stream's sample that follows what is placed

    @property
    def kept(self) -> int:
        """Samples in memory now."""
        return self._new_samples + self._placed_samples

    @property
    def written(self) -> int:
        """Samples in the file."""
        return 0 if self._file is None else self._file.written

    def put(self, start: int, block: Samples) -> None:
        """Take the stream's next block; it is copied.

        Args:
            start: Its first sample's number in the stream; more than the last one's end where
                blocks were lost.
            block: (n, 2).
        """
        if self.fault is not None:
            return
        self._new.append((start, block.copy()))
        self._new_samples += len(block)
        if self._origin_s is None:
            while self._new_samples - len(self._new[0][1]) >= BEFORE_S * self._rate_hz:
                self._oldest()
        else:
            self._place(SETTLE_S)

    def follow(self, first_s: float, until_s: float) -> None:
        """Write on, now that pictures go so far.

        Args:
            first_s: The first picture's instant, session clock: the file's sample 0. The first
                call's counts.
            until_s: When the newest picture ends.
        """
        if self._origin_s is None:
            self._begin(first_s)
        self._until = max(self._until, self._index(until_s))
        self._place(SETTLE_S)
        self._write(round(_WRITE_S * self._rate_hz))

    def finish(self) -> None:
        """End the file where the newest picture ends, and close it; safe to repeat."""
        if self._origin_s is not None and self.fault is None:
            self._place(0.0)
            self._pad(self._until - self._end)
            self._write(1)
        self._new.clear()
        self._placed.clear()
        self._new_samples = self._placed_samples = 0
        if self._file is not None:
            self._file.close()

    # --- placing --------------------------------------------------------------------------------

    def _index(self, t_s: float) -> int:
        """Return the file's sample at a session time."""
        return round((t_s - (self._origin_s or 0.0)) * self._rate_hz)

    def _begin(self, first_s: float) -> None:
        self._origin_s = first_s
        try:
            self._file = WavFile(self.path, self._rate_hz)
        except OSError as fault:
            self._give_up(fault)

    def _oldest(self) -> tuple[int, Samples]:
        start, block = self._new.popleft()
        self._new_samples -= len(block)
        return start, block

    def _place(self, settle_s: float) -> None:
        """Give the blocks that are old enough their places."""
        while self._new and self._new_samples - len(self._new[0][1]) >= settle_s * self._rate_hz:
            start, block = self._oldest()
            after = start + len(block)
            off = self._index(self._sounds_at(start)) - self._end
            if not self._goes_on(start, block, off):
                self.jumps += self._next is not None
                if off > 0:
                    self._pad(off)
                else:
                    block = block[-off:]
            elif abs(off) > _FINE_S * self._rate_hz and not block.any():
                self._pad(off)
                block = block[max(-off, 0) :]
            if len(block):
                self._append(block)
                self._next = after
            elif self._next is not None:
                self._next = after

    def _goes_on(self, start: int, block: Samples, off: int) -> bool:
        return start == self._next and abs(off) <= _FAR_S * self._rate_hz

    def _pad(self, n: int) -> None:
        """Append `n` samples of silence; none where `n` is not positive."""
        while n > 0 and self.fault is None:
            now = min(n, self._rate_hz)
            self._append(np.zeros((now, 2), np.float32))
            n -= now

    def _append(self, block: Samples) -> None:
        if self.fault is not None:
            return
        self._placed.append(block)
        self._placed_samples += len(block)
        self._end += len(block)
        over = self._placed_samples - round(AHEAD_S * self._rate_hz)
        if over > 0:  # no picture has come for long: time goes on all the same
            self._until = max(self._until, self._end - self._placed_samples + over)
            self._write(1)

    # --- writing --------------------------------------------------------------------------------

    def _write(self, least: int) -> None:
        """Write what pictures stand beside, where it is at least so many samples."""
        n = min(self._until - self.written, self._placed_samples)
        if self._file is None or self.fault is not None or n < least:
            return
        parts: list[Samples] = []
        self._placed_samples -= n
        while n > 0:
            block = self._placed.popleft()
            if len(block) > n:
                self._placed.appendleft(block[n:])
            parts.append(block[:n])
            n -= len(parts[-1])
        try:
            self._file.write(np.concatenate(parts))
        except OSError as fault:
            self._give_up(fault)

    def _give_up(self, fault: OSError) -> None:
        self.fault = fault
        if self._file is not None:
            self._file.close()
        self._new.clear()
        self._placed.clear()
        self._new_samples = self._placed_samples = 0
