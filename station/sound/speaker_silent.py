"""Speakers without a device: the beat is kept on the session's clock all the same.

`SilentSpeaker` stands in where nothing can sound, so that the screen's pulse and each step's
offset from the beat go on. `StreamSpeaker` is the virtual sound device of a recording worked
through as fast as it goes and of tests: like a real one it has a latency, and it is exact.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from station.clock import Clock
from station.errors import StationError
from station.sound.desk import Desk, SoundCounts
from station.sound.device_clock import DeviceClock
from station.sound.mixer import Mixer
from station.sound.tap import Put
from station.sound.tones import SAMPLE_RATE_HZ, Voicing, make_tones
from station.values import BeatManner, Cue, Heard

LATENCY_S = 0.040
"""From asking to sounding: what the real device is opened with."""
_RENDER_MAX = SAMPLE_RATE_HZ  # samples rendered at once when recording


class StreamSpeaker:
    """Plays on a virtual device whose time is the session's clock, whatever moves that.

    At session time t all samples that sound before t + `latency_s` are fixed, no others. So a cue
    asked for at t sounds at t + `latency_s`, and beats are told that much ahead.
    """

    def __init__(
        self,
        name: str = "stream time",
        notice: str | None = None,
        latency_s: float = LATENCY_S,
        volume: float = 1.0,
        record: bool = False,
        voicing: Voicing | None = None,
    ) -> None:
        """Prepare the sounds.

        Args:
            name: What it plays through, for the summary.
            notice: What the user must know.
            latency_s: From asking to sounding.
            volume: 0 to 1; matters to `recorded` only.
            record: Keep what it would play.
            voicing: Levels of beat and cues; matters to `recorded` only.
        """
        self.name = name
        self.notice = notice
        self._latency_s = latency_s
        self._mixer = Mixer(make_tones(SAMPLE_RATE_HZ, volume, voicing))
        self._record = record
        self._blocks: list[NDArray[np.float32]] = []
        self._desk: Desk | None = None
        self._start_s = 0.0

    def start(self, clock: Clock) -> None:
        """Begin the stream: sample 0 sounds now. A started speaker stays as it is."""
        if self._desk is None:
            self._start_s = clock.now_s()
            self._desk = Desk(self._mixer, DeviceClock(SAMPLE_RATE_HZ, self._start_s), clock)

    def set_beat(self, rate_spm: float | None, manner: BeatManner | None = None) -> None:
        """Set the beat; a change is heard `latency_s` from now. Raises BadInput."""
        self._caught_up().set_beat(rate_spm, manner)

    def cue(self, cue: Cue) -> float | None:
        """Sound a cue `latency_s` from now; return its onset, None if it is stale."""
        return self._caught_up().cue(cue)

    def call_staff(self, on: bool) -> None:
        """Sound the staff call over and over, alone and whatever the volume, or end it."""
        self._caught_up().mixer.call_staff(on)

    def heard(self) -> tuple[Heard, ...]:
        """Return the beats and cues placed since the last call, up to `latency_s` ahead."""
        return self._caught_up().heard()

    def counts(self) -> SoundCounts:
        """Return what went wrong so far."""
        return SoundCounts() if self._desk is None else self._desk.counts()

    def recorded(self) -> NDArray[np.float32]:
        """Return what it has played since `start`, (n, 2); empty unless asked to record."""
        return np.concatenate([np.zeros((0, 2), np.float32), *self._blocks])

    def tap(self, put: Put) -> None:
        """Render from now on, and give every block to `put`, on the caller's own thread."""
        self._mixer.tap = put

    def sounds_at(self, sample: int) -> float:
        """Return when a sample of the stream sounds, session seconds; exact."""
        return self._start_s + sample / SAMPLE_RATE_HZ

    def play_on(self, t_s: float) -> None:
        """Render all that sounds before session time `t_s`, though the clock stands before it."""
        if self._desk is not None:
            self._render_until(t_s)

    def stop(self) -> None:
        """Let the device's time end here; safe to repeat."""

    def _caught_up(self) -> Desk:
        """Render (or merely place) all that is due at this instant of the clock."""
        desk = self._desk
        if desk is None:
            raise StationError("the speaker has not been started")
        self._render_until(desk.clock.now_s() + self._latency_s)
        return desk

    def _render_until(self, t_s: float) -> None:
        # A hair's breadth off, so that 0.1 + 0.04 s is 6720 samples and not 6721.
        due = math.ceil((t_s - self._start_s) * SAMPLE_RATE_HZ - 1e-3)
        while (n := due - self._mixer.cursor) > 0:
            if not self._record and self._mixer.tap is None:
                self._mixer.skip(n)
                continue
            block = np.empty((min(n, _RENDER_MAX), 2), dtype=np.float32)
            self._mixer.render(block)
            if self._record:
                self._blocks.append(block)


class SilentSpeaker(StreamSpeaker):
    """Sounds nothing and says why; everything else goes on as if it did."""

    def __init__(self, notice: str | None) -> None:
        """Keep the notice for the user."""
        super().__init__(name="silent", notice=notice)
