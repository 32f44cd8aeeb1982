"""The speaker where PortAudio is missing: chunks of samples through pygame's mixer.

The mixer plays one chunk and holds the next; when a chunk ends it begins the next at its next
buffer. A chunk is a whole number of buffers, so there is no gap between two: the beat is exact to
the sample here too. Only a cue is later than with PortAudio, by about a chunk.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from station.clock import Clock
from station.errors import DeviceTrouble, Worded
from station.sound.chatter import native_chatter_off
from station.sound.device_speaker import DeviceSpeaker
from station.sound.mixer_feeder import Feeder
from station.sound.outlet import Outlet
from station.sound.reopening import Aside, Opened, in_thread
from station.sound.sdl_status import output_status
from station.sound.tones import SAMPLE_RATE_HZ, Voicing

_BUFFERS = (1024, 2048, 4096)
"""21 to 85 ms; with 11 ms the sound server ran dry once in 30 s on a busy machine."""
LATENCY_S = 2 * _BUFFERS[0] / SAMPLE_RATE_HZ
"""A chunk of two buffers, which is also SDL's own double buffer, from mixing to sounding; what the
system adds is not told. The feeder may be held up for so long."""
_JOIN_MAX_S = 2.0


@dataclass(frozen=True, slots=True, eq=False)
class _Playing:
    """One opening of pygame's mixer."""

    feeder: Feeder
    thread: threading.Thread
    there: Callable[[], bool] | None


class PygameSpeaker(DeviceSpeaker):
    """Plays through pygame's mixer; needs no display and no library beside pygame."""

    recent_s = 0.25
    still_s = 0.6
    warm_s = 1.5
    jump_s = 0.015  # the feeder sees a chunk begin up to a poll late, more on a busy machine

    def __init__(
        self,
        device_name: str | None = None,
        volume: float = 0.6,
        voicing: Voicing | None = None,
        latency_s: float = LATENCY_S,
        aside: Aside = in_thread,
    ) -> None:
        """Prepare the sounds; the device is opened by `start`.

        Args:
            device_name: The output's full name as SDL knows it; None: the system's default.
            volume: 0 to 1.
            voicing: Levels of beat and cues, and how feet are told apart; None: as made.
            latency_s: To begin with, rounded to what the mixer offers; under-runs raise it.
            aside: Runs what may take its time; by default a thread.
        """
        super().__init__("pygame mixer", device_name, volume, voicing, latency_s, aside)
        self._heeds_quit = False

    def start(self, clock: Clock) -> None:
        """Open the mixer, feed it and wait, bounded, until its clock is known. Safe to repeat.

        Raises:
            DeviceTrouble: pygame has no mixer, or it opens no output.
        """
        super().start(clock)
        if not self._heeds_quit:
            import pygame

            # pygame.quit() frees the channels: one that is asked afterwards crashes the program.
            pygame.register_quit(self._quit_by_others)
            self._heeds_quit = True

    def _open(self, outlet: Outlet, latency_s: float, again: bool) -> Opened:
        # SDL looks for devices whenever its mixer is opened: again is as the first time.
        os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")
        buffer = _buffer(latency_s)
        try:
            import pygame
            import pygame.mixer

            with native_chatter_off():
                notice = self._open_mixer(pygame, buffer)
        except (ImportError, NotImplementedError) as error:
            why = Worded(f"pygame has no mixer here: {error}", "no_output", why=str(error))
            raise DeviceTrouble(why) from error
        except pygame.error as error:
            said = f"pygame's mixer opens no sound output: {error}"
            raise DeviceTrouble(Worded(said, "no_output", why=str(error))) from error

        feeder = Feeder(
            outlet,
            pygame.mixer.Channel(0),
            2 * buffer,
            lambda raw: pygame.mixer.Sound(buffer=raw),
            lambda: bool(pygame.mixer.get_init()),
            outlet.desk.clock.now_s,
        )
        thread = threading.Thread(target=feeder.run, name="sound-feeder", daemon=True)
        thread.start()
        playing = _Playing(feeder, thread, output_status(pygame))
        return Opened(playing, outlet, "pygame mixer", notice, 2 * buffer / SAMPLE_RATE_HZ)

    def _close(self, opened: Opened) -> None:
        import pygame

        opened.device.feeder.end()
        opened.device.thread.join(_JOIN_MAX_S)
        pygame.mixer.quit()

    def _gone(self, opened: Opened) -> str | None:
        there = opened.device.there
        return None if there is None or there() else f"the device of the {self.name} went away"

    def _trouble(self, opened: Opened, now_s: float) -> str | None:
        why = super()._trouble(opened, now_s)
        return f"pygame's mixer has ended ({self.fault})" if self.fault is not None else why

    def _quit_by_others(self) -> None:
        if self._opened is not None and not self._stopped:
            opened = self._opened
            self.fault = RuntimeError("pygame was quit")
            self._close(opened)

    def _open_mixer(self, pygame: Any, buffer: int) -> str | None:
        """Open it and return what the user must know."""
        # Someone may have opened it before with settings that would break the sample count.
        pygame.mixer.quit()
        notice = None
        settings = {"buffer": buffer, "allowedchanges": 0}
        try:
            pygame.mixer.init(SAMPLE_RATE_HZ, 32, 2, devicename=self._device_name, **settings)
        except pygame.error:
            if self._device_name is None:
                raise
            pygame.mixer.init(SAMPLE_RATE_HZ, 32, 2, **settings)
            notice = Worded(
                f"No sound output is named '{self._device_name}'; the system's default is used.",
                "output_unknown",
                name=self._device_name,
            )
        if no_loudspeaker():
            notice = Worded(
                "Nothing sounds: SDL_AUDIODRIVER is set to a driver without a speaker.",
                "no_speaker_driver",
            )
        return notice


def no_loudspeaker() -> bool:
    """Return whether SDL is told to play to nobody."""
    return os.environ.get("SDL_AUDIODRIVER") in ("dummy", "disk")


def _buffer(latency_s: float) -> int:
    """Return the smallest buffer whose latency is about `latency_s` or more."""
    for buffer in _BUFFERS:
        if 2 * buffer / SAMPLE_RATE_HZ > 0.9 * latency_s:
            return buffer
    return _BUFFERS[-1]
