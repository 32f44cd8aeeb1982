"""The speaker where PortAudio is missing: chunks of samples through pygame's mixer.

The mixer plays one chunk and holds the next; when a chunk ends it begins the next at its next
buffer. A chunk is a whole number of buffers, so there is no gap between two: the beat is exact to
the sample here too. Only a cue is later than with PortAudio, by about a chunk.
"""

from __future__ import annotations

import os
import threading
from typing import Any

import numpy as np

from station.clock import Clock
from station.errors import DeviceTrouble, StationError
from station.sound.chatter import native_chatter_off
from station.sound.desk import Desk, SoundCounts
from station.sound.device_clock import DeviceClock
from station.sound.mixer import Mixer
from station.sound.speaker_silent import SilentSpeaker, StreamSpeaker
from station.sound.tap import Put
from station.sound.tones import SAMPLE_RATE_HZ, Voicing, make_tones
from station.values import BeatManner, Cue, Heard

_BUFFER = 1024  # 21 ms; with half of it the sound server ran dry once in 30 s on a busy machine
_CHUNK = 2 * _BUFFER  # 43 ms: the feeder may be held up for so long
_POLL_S = 0.004
_DEVICE_S = 2 * _BUFFER / SAMPLE_RATE_HZ
"""From mixing to sounding, by SDL's double buffer; what the system adds is not told."""
_JUMP_S = 0.015  # the feeder sees a chunk begin up to a poll late, more when the machine is busy
_SETTLE_MAX_S = 1.0
_STOP_MAX_S = 2.0


class PygameSpeaker:
    """Plays through pygame's mixer; needs no display and no library beside pygame."""

    def __init__(
        self,
        device_name: str | None = None,
        volume: float = 0.6,
        voicing: Voicing | None = None,
    ) -> None:
        """Prepare the sounds; the device is opened by `start`.

        Args:
            device_name: The output's full name as SDL knows it; None: the system's default.
            volume: 0 to 1.
            voicing: Levels of beat and cues, and how feet are told apart; None: as made.
        """
        self.name = "pygame mixer"
        self.notice: str | None = None
        self.fault: BaseException | None = None
        """What ended the feeder, if anything did."""
        self._device_name = device_name
        self._mixer = Mixer(make_tones(SAMPLE_RATE_HZ, volume, voicing))
        self._desk: Desk | None = None
        self._pygame: Any = None
        self._spare: StreamSpeaker | None = None
        self._feeder: threading.Thread | None = None
        self._ended = threading.Event()
        self._underflows = 0
        self._block = np.empty((_CHUNK, 2), dtype=np.float32)

    def start(self, clock: Clock) -> None:
        """Open the mixer, feed it and wait, bounded, until its clock is known. Safe to repeat.

        Raises:
            DeviceTrouble: pygame has no mixer, or it opens no output.
        """
        if self._desk is not None:
            return
        os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")
        try:
            import pygame
            import pygame.mixer

            with native_chatter_off():
                self._open(pygame)
        except (ImportError, NotImplementedError) as error:
            raise DeviceTrouble(f"pygame has no mixer here: {error}") from error
        except pygame.error as error:
            raise DeviceTrouble(f"pygame's mixer opens no sound output: {error}") from error
        self._pygame = pygame
        # pygame.quit() frees the channels: one that is asked afterwards crashes the program.
        pygame.register_quit(self._quit_by_others)
        device_clock = DeviceClock(SAMPLE_RATE_HZ, clock.now_s() + _DEVICE_S, _JUMP_S)
        self._desk = Desk(self._mixer, device_clock, clock)
        self._feeder = threading.Thread(
            target=self._run, args=(self._desk,), name="sound-feeder", daemon=True
        )
        self._feeder.start()
        end_s = clock.now_s() + _SETTLE_MAX_S
        while not self._desk.learn().settled and clock.now_s() < end_s and self.fault is None:
            clock.wait_until(clock.now_s() + 0.01, 0.01)

    def set_beat(self, rate_spm: float | None, manner: BeatManner | None = None) -> None:
        """Set the beat from the next chunk on; raises BadInput where it is out of range."""
        self._speaking().set_beat(rate_spm, manner)

    def cue(self, cue: Cue) -> float | None:
        """Sound a cue from the next chunk on; return its onset, None if it is stale."""
        return self._speaking().cue(cue)

    def heard(self) -> tuple[Heard, ...]:
        """Return the beats and cues placed since the last call, in order of time."""
        desk = self._started()
        before = desk.heard()
        speaking = self._speaking()
        return before if speaking is desk else before + speaking.heard()

    def counts(self) -> SoundCounts:
        """Return what went wrong so far."""
        return SoundCounts() if self._desk is None else self._desk.counts(self._underflows)

    def tap(self, put: Put) -> None:
        """Give every block to `put` from now on, on the feeder's thread: it must not wait."""
        self._mixer.tap = put

    def sounds_at(self, sample: int) -> float:
        """Return when a sample of the stream sounds, session seconds."""
        return self._started().sounds_at(sample)

    def stop(self) -> None:
        """Silence and close; bounded in time, safe to repeat."""
        self._ended.set()
        feeder, self._feeder = self._feeder, None
        if feeder is not None:
            feeder.join(_STOP_MAX_S)
            self._pygame.mixer.quit()

    def _quit_by_others(self) -> None:
        if self._feeder is not None:
            self.fault = RuntimeError("pygame was quit")
            self.stop()

    def _open(self, pygame: Any) -> None:
        # Someone may have opened it before with settings that would break the sample count.
        pygame.mixer.quit()
        settings = {"buffer": _BUFFER, "allowedchanges": 0}
        try:
            pygame.mixer.init(SAMPLE_RATE_HZ, 32, 2, devicename=self._device_name, **settings)
        except pygame.error:
            if self._device_name is None:
                raise
            pygame.mixer.init(SAMPLE_RATE_HZ, 32, 2, **settings)
            self.notice = (
                f"No sound output is named '{self._device_name}'; the system's default is used."
            )
        if os.environ.get("SDL_AUDIODRIVER") in ("dummy", "disk"):
            self.notice = "Nothing sounds: SDL_AUDIODRIVER is set to a driver without a speaker."

    # --- the feeder's thread -------------------------------------------------------------------

    def _run(self, desk: Desk) -> None:
        try:
            self._feed(desk, self._pygame.mixer.Channel(0))
        except BaseException as error:  # the loop's thread is told
            self.fault = error

    def _feed(self, desk: Desk, channel: Any) -> None:
        """Keep one chunk playing and one waiting until told to end."""
        waiting = self._begin(channel)
        while not self._ended.wait(_POLL_S):
            if not self._pygame.mixer.get_init():
                raise RuntimeError("the mixer was closed")
            waiting = self._feed_once(desk, channel, waiting)

    def _begin(self, channel: Any) -> int:
        """Play one chunk and queue the next; return the first sample of that."""
        channel.play(self._next_chunk())
        waiting = self._mixer.cursor
        channel.queue(self._next_chunk())
        return waiting

    def _feed_once(self, desk: Desk, channel: Any, waiting: int) -> int:
        """Queue a chunk where the one waiting has begun, and note when it did.

        Args:
            desk: Takes the note.
            channel: pygame's channel that plays.
            waiting: First sample of the chunk that was queued last.

        Returns:
            First sample of the chunk that is queued now.
        """
        if channel.get_queue() is not None:
            return waiting
        now_s = desk.clock.now_s()
        if not channel.get_busy():  # both have run out: a gap was heard
            self._underflows += 1
            desk.observe(self._mixer.cursor, now_s + _DEVICE_S)
            return self._begin(channel)
        desk.observe(waiting, now_s - _POLL_S / 2 + _DEVICE_S)
        waiting = self._mixer.cursor
        channel.queue(self._next_chunk())
        return waiting

    def _next_chunk(self) -> Any:
        self._mixer.render(self._block)
        return self._pygame.mixer.Sound(buffer=self._block.tobytes())

    # --- the loop's thread ---------------------------------------------------------------------

    def _started(self) -> Desk:
        if self._desk is None:
            raise StationError("the speaker has not been started")
        return self._desk

    def _speaking(self) -> Desk | StreamSpeaker:
        desk = self._started()
        if self._spare is None and self.fault is not None:
            self.notice = (
                f"Sound is off: pygame's mixer has ended ({self.fault}). "
                "The beat goes on on the screen."
            )
            self._spare = SilentSpeaker(self.notice)
            self._spare.start(desk.clock)
            self._spare.set_beat(desk.rate_spm, desk.manner)
        return self._spare or desk
