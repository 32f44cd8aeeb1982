"""Mixes beats and at most one cue into blocks of samples, each at its exact sample.

Two threads meet here. The loop's thread asks (`set_beat`, `cue`, `placed`); the audio thread
renders. What is asked waits in slots of one (the newest wins) behind a lock that either side holds
for a few instructions only; what was placed comes back through a bounded queue.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from station.sound.beat import Beat, BeatClock, check_ramp, check_rate
from station.sound.tones import Samples, Tones
from station.values import BeatManner, CueKind, Side, other

_PLACED_MAX = 2048  # beats and cues not yet fetched: over six minutes of running


@dataclass(frozen=True, slots=True)
class Placed:
    """One beat, silent place of a beat or cue that has been given its place in the stream."""

    kind: Literal["beat", "offbeat"] | CueKind
    sample: int
    side: Side | None = None
    period: float | None = None
    """For a beat or offbeat: samples of one step."""
    number: int | None = None
    """For a beat or offbeat: counts the steps' places from 0."""
    steps: int = 1
    """For a beat: steps up to the next one."""


@dataclass(frozen=True, slots=True, eq=False)
class _Sounding:
    tone: Samples
    at: int
    cut_at: int | None = None
    """From where it fades because a newer cue begins."""


class Mixer:
    """Renders the stream of samples, from sample 0 on, block after block."""

    def __init__(self, tones: Tones) -> None:
        """Begin silent, at sample 0.

        Args:
            tones: What to sound, volume included.
        """
        self.tones = tones
        self.cues_replaced = 0
        """Cues that a newer one replaced before they began."""
        self.placed_lost = 0
        """Beats and cues that nobody fetched in time."""
        self.tap: Callable[[int, Samples], None] | None = None
        """Given each rendered block: its first sample, and the samples, the caller's own."""
        self._beats = BeatClock(tones.sample_rate_hz)
        self._lock = threading.Lock()
        self._cursor = 0
        self._rate_asked: tuple[float | None, BeatManner] | None = None
        self._manner = BeatManner()
        self._sounds_from: int | None = None  # number of the beat that strides are counted from
        self._cue_asked: tuple[CueKind, Side | None] | None = None
        self._placed: deque[Placed] = deque()
        self._tick: _Sounding | None = None
        self._cue: _Sounding | None = None
        self._cut: _Sounding | None = None
        self._calling_from: int | None = None

    # --- called by the loop's thread -----------------------------------------------------------

    @property
    def cursor(self) -> int:
        """The first sample that is not yet rendered: where a cue asked for now would begin."""
        return self._cursor

    def set_beat(self, rate_spm: float | None, manner: BeatManner | None = None) -> None:
        """Ask for a beat (None: for none) from the next block on.

        Args:
            rate_spm: Steps per minute.
            manner: How it is kept; None: one beat per step, changes at once.

        Raises:
            BadInput: A rate or the ramp is out of range.
        """
        manner = manner or BeatManner()
        for rate in (rate_spm, manner.start_spm):
            if rate is not None:
                check_rate(rate)
        check_ramp(manner.ramp)
        with self._lock:
            self._rate_asked = (rate_spm, manner)

    def cue(self, kind: CueKind, side: Side | None) -> int:
        """Ask for a cue; it replaces one that is sounding or waiting.

        Returns:
            The sample it begins at: exact, since it is the next one to be rendered.
        """
        with self._lock:
            self.cues_replaced += self._cue_asked is not None
            self._cue_asked = (kind, side)
            return self._cursor

    def call_staff(self, on: bool) -> None:
        """Sound the staff call alone, over and over, or end it; beats keep their places."""
        with self._lock:
            if not on:
                self._calling_from = None
            elif self._calling_from is None:
                self._calling_from = self._cursor

    def placed(self) -> list[Placed]:
        """Return what has been placed since the last call, in order of samples."""
        return [self._placed.popleft() for _ in range(len(self._placed))]

    # --- called by the audio thread ------------------------------------------------------------

    def render(self, out: NDArray[np.float32]) -> None:
        """Fill the next block; the caller owns `out`.

        Args:
            out: (n, 2) float32, left and right; any n, overwritten whole. Within -1 to 1.
        """
        start, ticks = self._advance(len(out))
        out.fill(0.0)
        calling_from = self._calling_from
        if calling_from is not None:  # nothing else sounds: it must be heard, and must not clip
            call = self.tones.staff_call
            out[:] = call[(np.arange(start, start + len(out)) - calling_from) % len(call)]
            if self.tap is not None:
                self.tap(start, out)
            return
        for tick in ticks:
            _mix(out, start, tick.tone, tick.at)
        if self._cut is not None:
            self._mix_fading(out, start, self._cut)
        if self._cue is not None:
            _mix(out, start, self._cue.tone, self._cue.at)
        if self.tap is not None:
            self.tap(start, out)

    def skip(self, n: int) -> None:
        """Place the beats and cues of the next `n` samples without rendering them.

        What began in them is not taken up in its middle by a later block.
        """
        self._advance(n)
        self._tick = self._cue = self._cut = None

    def _advance(self, n: int) -> tuple[int, list[_Sounding]]:
        """Move on by `n` samples and place what falls into them.

        Returns:
            The block's first sample; the tick that may still sound and the new ones.
        """
        with self._lock:
            start = self._cursor
            end = self._cursor = start + n
            rate_asked, self._rate_asked = self._rate_asked, None
            cue_asked, self._cue_asked = self._cue_asked, None
        if rate_asked is not None:
            self._change_beat(*rate_asked, start)
        if cue_asked is not None:
            self._begin(cue_asked, start)
        ticks = [] if self._tick is None else [self._tick]
        for beat in self._beats.take(end):
            if self._place(beat):
                ticks.append(_Sounding(self.tones.beats[self._foot(beat.number)], beat.sample))
                self._tick = ticks[-1]
        return start, ticks

    def _change_beat(self, rate_spm: float | None, manner: BeatManner, at: int) -> None:
        self._beats.set_rate(rate_spm, at, manner.ramp, manner.start_spm)
        if rate_spm is None or manner.every != self._manner.every:
            self._sounds_from = None  # the next beat is one that sounds
        self._manner = manner

    def _place(self, beat: Beat) -> bool:
        """Note a beat, or a stride's silent place; return whether it sounds."""
        if self._sounds_from is None:
            self._sounds_from = beat.number
        steps = 2 if self._manner.every == "stride" else 1
        sounds = (beat.number - self._sounds_from) % steps == 0
        self._note(
            Placed(
                "beat" if sounds else "offbeat",
                beat.sample,
                self._foot(beat.number),
                beat.period,
                beat.number,
                steps,
            )
        )
        return sounds

    def _foot(self, number: int) -> Side | None:
        """Return the foot that steps on the place of this number; None: not known."""
        even = self._manner.even_foot
        return even if even is None or number % 2 == 0 else other(even)

    def _begin(self, cue: tuple[CueKind, Side | None], start: int) -> None:
        old = self._cue
        if old is not None and old.at + len(old.tone) > start:
            self._cut = _Sounding(old.tone, old.at, start)
        self._cue = _Sounding(self.tones.cues[cue], start)
        self._note(Placed(cue[0], start, cue[1]))

    def _note(self, placed: Placed) -> None:
        if len(self._placed) >= _PLACED_MAX:
            self.placed_lost += 1  # the newest is dropped: only the other thread takes any out
            return
        self._placed.append(placed)

    def _mix_fading(self, out: NDArray[np.float32], start: int, cue: _Sounding) -> None:
        cut_at = start if cue.cut_at is None else cue.cut_at
        fade = self.tones.fade
        a = max(start, cut_at)
        b = min(start + len(out), cut_at + len(fade), cue.at + len(cue.tone))
        if b > a:
            part = cue.tone[a - cue.at : b - cue.at] * fade[a - cut_at : b - cut_at]
            out[a - start : b - start] += part
        else:
            self._cut = None


def _mix(out: NDArray[np.float32], start: int, tone: Samples, at: int) -> None:
    """Add the part of `tone` (begun at sample `at`) that lies in the block begun at `start`."""
    a, b = max(start, at), min(start + len(out), at + len(tone))
    if b > a:
        out[a - start : b - start] += tone[a - at : b - at]
