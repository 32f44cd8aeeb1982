"""Records from an input through PortAudio: a microphone, or what an output plays (its monitor)."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from station.clock import Clock
from station.errors import DeviceTrouble, Worded
from station.sound.chatter import native_chatter_off
from station.sound.device_clock import DeviceClock
from station.sound.round_trip import Recording
from station.sound.tones import SAMPLE_RATE_HZ

LONGEST_S = 60.0
"""What comes later is not kept."""
_LATENCY_S = 0.040
_AGE_MAX_S = 5.0

Callback = Callable[[NDArray[np.float32], int, Any, Any], None]
OpenInput = Callable[["str | None", Callback], "tuple[Any, str]"]
"""(part of a device's name, callback) -> stream, the device's name; DeviceTrouble."""


def open_input(device_name: str | None, callback: Callback) -> tuple[Any, str]:
    """Open an input stream: 48 kHz, mono, float32; not yet started.

    Args:
        device_name: Part of the device's name in any case; None: the system's default.
        callback: As sounddevice calls it.

    Raises:
        DeviceTrouble: PortAudio is missing, no input fits the name, or it cannot be opened.
    """
    with native_chatter_off():
        try:
            import sounddevice
        except (ImportError, OSError) as error:
            raise DeviceTrouble(
                Worded(
                    "the PortAudio library is missing (remedy: apt install libportaudio2)",
                    "portaudio_missing",
                )
            ) from error
        try:
            device = None if not device_name else _find_input(sounddevice, device_name)
            name = str(sounddevice.query_devices(device, "input")["name"])
            stream = sounddevice.InputStream(
                samplerate=SAMPLE_RATE_HZ, channels=1, dtype="float32", device=device,
                latency=_LATENCY_S, blocksize=0, callback=callback,
            )  # fmt: skip
        except (sounddevice.PortAudioError, ValueError) as error:
            why = Worded(f"PortAudio opens no sound input: {error}", "no_input", why=str(error))
            raise DeviceTrouble(why) from error
    return stream, name


def _find_input(sounddevice: Any, device_name: str) -> int:
    inputs = {
        i: str(device["name"])
        for i, device in enumerate(sounddevice.query_devices())
        if device["max_input_channels"] >= 1
    }
    for i, name in inputs.items():
        if device_name.casefold() in name.casefold():
            return i
    there = ", ".join(inputs.values()) or "none"
    raise DeviceTrouble(
        Worded(
            f"no sound input is named '{device_name}' (there are: {there})",
            "input_unknown",
            name=device_name,
            there=there,
        )
    )


class PortAudioMicrophone:
    """Records through PortAudio, and knows when each sample arrived. Nothing is written."""

    def __init__(self, device_name: str | None = None, open_input: OpenInput = open_input) -> None:
        """Prepare; the device is opened by `start`.

        Args:
            device_name: Part of the input's name; None: the system's default.
            open_input: The device's edge (tests put their own).
        """
        self.name = device_name or "default"
        self._device_name = device_name
        self._open_input = open_input
        self._stream: Any = None
        self._clock: Clock | None = None
        self._device_clock = DeviceClock(SAMPLE_RATE_HZ, 0.0)
        self._blocks: list[NDArray[np.float32]] = []
        self._count = 0

    def start(self, clock: Clock) -> None:
        """Begin to record.

        Raises:
            DeviceTrouble: The input cannot be opened.
        """
        self._clock = clock
        self._device_clock = DeviceClock(SAMPLE_RATE_HZ, clock.now_s())
        self._stream, self.name = self._open_input(self._device_name, self._callback)
        try:
            self._stream.start()
        except Exception as error:  # PortAudioError, known only to its own module
            self.stop()
            why = Worded(f"the sound input does not start: {error}", "no_input", why=str(error))
            raise DeviceTrouble(why) from error

    def stop(self) -> Recording:
        """End and return all that was recorded; empty where nothing came."""
        stream, self._stream = self._stream, None
        if stream is not None:
            with contextlib.suppress(Exception):
                stream.stop()
            with contextlib.suppress(Exception):
                stream.close()
        samples = np.concatenate([np.zeros(0, np.float32), *self._blocks])
        return Recording(samples, self._device_clock.at)

    def _callback(self, data: NDArray[np.float32], frames: int, times: Any, status: Any) -> None:
        """Keep one block; called by PortAudio's thread, whose memory `data` is, (frames, 1)."""
        if self._clock is None or self._count > LONGEST_S * SAMPLE_RATE_HZ:
            return
        age_s = times.currentTime - times.inputBufferAdcTime
        if 0.0 <= age_s < _AGE_MAX_S:
            self._device_clock.observe(self._count, self._clock.now_s() - age_s)
        self._blocks.append(data[:, 0].copy())
        self._count += frames
