"""The speaker of a bay: a stream of samples through PortAudio.

PortAudio's thread calls back for every block, about 10 ms each. The callback only copies prepared
samples; see `PortAudioSpeaker._called` for its contract.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from station.errors import DeviceTrouble
from station.sound.device_speaker import DeviceSpeaker
from station.sound.outlet import Outlet
from station.sound.portaudio_stream import (
    LATENCY_S,
    OpenStream,
    open_stream,
    open_stream_anew,
)
from station.sound.reopening import Aside, Opened, in_thread
from station.sound.tones import Voicing
from station.sound.underruns import MOST_LATENCY_S

__all__ = ["LATENCY_S", "MOST_LATENCY_S", "PortAudioSpeaker", "open_stream"]

_AHEAD_MAX_S = 5.0  # no device buffers so much: the stream's clock was set between two reads


class PortAudioSpeaker(DeviceSpeaker):
    """Plays through PortAudio; goes on silently while the device is away, see `DeviceSpeaker`."""

    def __init__(
        self,
        device_name: str | None = None,
        volume: float = 0.6,
        open_stream: OpenStream = open_stream,
        voicing: Voicing | None = None,
        latency_s: float = LATENCY_S,
        open_stream_anew: OpenStream = open_stream_anew,
        aside: Aside = in_thread,
    ) -> None:
        """Prepare the sounds; the device is opened by `start`.

        Args:
            device_name: Part of the output's name; None: the system's default.
            volume: 0 to 1.
            open_stream: The device's edge (tests put their own).
            voicing: Levels of beat and cues, and how feet are told apart; None: as made.
            latency_s: To begin with; under-runs raise it.
            open_stream_anew: The same once a device was lost.
            aside: Runs what may take its time; by default a thread.
        """
        super().__init__("PortAudio", device_name, volume, voicing, latency_s, aside)
        self._open_stream = open_stream
        self._open_anew = open_stream_anew

    def _open(self, outlet: Outlet, latency_s: float, again: bool) -> Opened:
        desk = outlet.desk

        def callback(out: NDArray[np.float32], frames: int, times: Any, status: Any) -> None:
            self._called(outlet, desk.clock.now_s, out, times, status)

        open_stream = self._open_anew if again else self._open_stream
        stream, name, notice = open_stream(self._device_name, callback, latency_s)
        told_s = getattr(stream, "latency", None)
        opened = Opened(stream, outlet, name, notice, latency_s if told_s is None else told_s)
        try:
            stream.start()
        except Exception as error:  # PortAudioError, known only to its own module
            self._close(opened)
            raise DeviceTrouble(f"the sound output does not start: {error}") from error
        return opened

    def _close(self, opened: Opened) -> None:
        # A device that is gone may refuse; there is nothing left to be done about it.
        with contextlib.suppress(Exception):
            opened.device.stop()
        with contextlib.suppress(Exception):
            opened.device.close()

    def _gone(self, opened: Opened) -> str | None:
        with contextlib.suppress(Exception):  # of a lost device even the question may fail
            if opened.device.active:
                return None
        return f"the device '{self.name}' went away"

    @staticmethod
    def _called(
        outlet: Outlet, now: Callable[[], float], out: NDArray[np.float32], times: Any, status: Any
    ) -> None:
        """Render one block.

        Called by PortAudio's thread. `out` is (frames, 2) float32, PortAudio's own memory, to be
        overwritten whole. `times` is on the stream's clock, which is wall-clock time on Linux and
        may be set at any instant: only the difference of two of its values, read at one instant,
        is used, beside the session's clock read here. Nothing is waited for but two short locks.
        An exception is kept, and this and every later block is silent.
        """
        try:
            now_s = now()
            ahead_s = times.outputBufferDacTime - times.currentTime
            if 0.0 < ahead_s < _AHEAD_MAX_S:  # 0: a block that only fills the buffer at the start
                outlet.observe(outlet.count, now_s + ahead_s)
            outlet.underflows += bool(status and status.output_underflow)
            outlet.called_s = now_s
            outlet.fill(out)
        except BaseException as error:  # must not cross into C; the loop's thread is told
            outlet.fault = error
            out.fill(0.0)
