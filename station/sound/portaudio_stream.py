"""The edge to PortAudio: opens an output stream, the first time and again."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from station.errors import DeviceTrouble, Worded
from station.sound.chatter import native_chatter_off
from station.sound.tones import SAMPLE_RATE_HZ

LATENCY_S = 0.040
"""PortAudio's own 'low' underflows while the pose model runs; this was gapless on two cores."""

Callback = Callable[[NDArray[np.float32], int, Any, Any], None]


class Stream(Protocol):
    """What is used of sounddevice's OutputStream."""

    active: bool

    def start(self) -> None:
        """Begin calling back."""

    def stop(self) -> None:
        """End after what is buffered."""

    def close(self) -> None:
        """Free the device."""


OpenStream = Callable[["str | None", Callback, float], "tuple[Stream, str, str | None]"]
"""(part of a device's name, callback, latency in seconds) -> stream, the device's name, a notice;
DeviceTrouble."""


def open_stream(
    device_name: str | None, callback: Callback, latency_s: float = LATENCY_S
) -> tuple[Stream, str, str | None]:
    """Open an output stream: 48 kHz, stereo, float32; not yet started.

    Args:
        device_name: Part of the device's name in any case; None: the system's default. A name
            that fits no output gives the default and a notice.
        callback: As sounddevice calls it.
        latency_s: From rendering to sounding, as asked of the device.

    Returns:
        The stream, the device's name, and what the user must know or None.

    Raises:
        DeviceTrouble: The PortAudio library is missing, or no output can be opened.
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
            device, notice = _find_output(sounddevice, device_name)
            info = sounddevice.query_devices(device, "output")
            stream = sounddevice.OutputStream(
                samplerate=SAMPLE_RATE_HZ,
                channels=2,
                dtype="float32",
                device=device,
                latency=latency_s,
                blocksize=0,  # the device's own: a set size adds a buffer of PortAudio's
                callback=callback,
            )
        except (sounddevice.PortAudioError, ValueError) as error:
            why = Worded(f"PortAudio opens no sound output: {error}", "no_output", why=str(error))
            raise DeviceTrouble(why) from error
    return stream, f"{info['name']} (PortAudio)", notice


def open_stream_anew(
    device_name: str | None, callback: Callback, latency_s: float = LATENCY_S
) -> tuple[Stream, str, str | None]:
    """Open a stream as `open_stream` does, after PortAudio has looked afresh for devices.

    No other stream of this process may be open.
    """
    look_afresh()
    return open_stream(device_name, callback, latency_s)


def look_afresh() -> None:
    """Let PortAudio list the devices that there are now.

    It lists them once, when it is initialised: a sound server that was started again, or a device
    that was plugged in again, is not in it. sounddevice initialises it at import and offers nothing
    public to do so again; its two private functions do just that, and count how often. Where a
    later release has them no more, the devices stay those of the start.

    Raises:
        DeviceTrouble: PortAudio cannot be initialised.
    """
    sounddevice = sys.modules.get("sounddevice")
    end = getattr(sounddevice, "_terminate", None)
    begin = getattr(sounddevice, "_initialize", None)
    if sounddevice is None or end is None or begin is None:
        return
    with native_chatter_off():
        try:
            if getattr(sounddevice, "_initialized", 1):  # 0: the last try ended between the two
                end()
            begin()
        except sounddevice.PortAudioError as error:
            raise DeviceTrouble(f"PortAudio does not start again: {error}") from error


def _find_output(sounddevice: Any, device_name: str | None) -> tuple[int | None, str | None]:
    if not device_name:
        return None, None
    outputs = {
        i: str(device["name"])
        for i, device in enumerate(sounddevice.query_devices())
        if device["max_output_channels"] >= 2
    }
    for i, name in outputs.items():
        if device_name.casefold() in name.casefold():
            return i, None
    there = ", ".join(outputs.values()) or "none"
    return None, Worded(
        f"No sound output is named '{device_name}' (there are: {there}); "
        "the system's default is used.",
        "output_unknown",
        name=device_name,
    )
