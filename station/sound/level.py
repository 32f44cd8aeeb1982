"""How loud the station's ticks are above the room that they are heard in."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, sosfiltfilt

from station.clock import Clock
from station.sound.round_trip import Microphone, Recording
from station.sound.tones import SAMPLE_RATE_HZ

_BLOCK = SAMPLE_RATE_HZ // 100
_ABOVE_HZ = 300.0
"""Below it a treadmill rumbles, and nobody hears the beat by it."""
_LOUDEST, _ROOM = 99.3, 30.0
"""Percentiles of 10 ms blocks: four ticks in six seconds fill about two in a hundred."""
_LEAST_S = 1.0


def above_room_db(samples: NDArray[np.float32]) -> float | None:
    """Return how far ticks stand out from the noise between them, decibels.

    Args:
        samples: (n,) at `SAMPLE_RATE_HZ`, some ticks with quiet between them.

    Returns:
        The ratio of loud to quiet blocks' power; None: too short, or nothing but zeros.
    """
    if samples.size < _LEAST_S * SAMPLE_RATE_HZ:
        return None
    high = butter(2, _ABOVE_HZ, "highpass", fs=SAMPLE_RATE_HZ, output="sos")
    sound = sosfiltfilt(high, samples.astype(float))
    blocks = sound[: sound.size // _BLOCK * _BLOCK].reshape(-1, _BLOCK)
    power = (blocks**2).mean(axis=1)
    loud, room = np.percentile(power, (_LOUDEST, _ROOM))
    if loud <= 0.0:
        return None
    return float(10.0 * np.log10(loud / max(room, 1e-12)))


class Remembering:
    """An input whose recording can be looked at afterwards."""

    def __init__(self, microphone: Microphone) -> None:
        """Stand before an input."""
        self._microphone = microphone
        self.name = microphone.name
        self.recording: Recording | None = None
        """What was recorded last; None: nothing yet."""

    def start(self, clock: Clock) -> None:
        """Begin to record; raises DeviceTrouble."""
        self._microphone.start(clock)
        self.name = self._microphone.name  # known once it is open

    def stop(self) -> Recording:
        """End and return all that was recorded."""
        self.recording = self._microphone.stop()
        return self.recording
