"""Writes 16-bit stereo into a WAV file whose header is right after every write.

The standard library's `wave` mends the header each time. So a program that is killed leaves a
file that any player opens.
"""

from __future__ import annotations

import contextlib
import errno
import wave
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

CHANNELS = 2
_FULL_SCALE = 32767
_FRAME_BYTES = 2 * CHANNELS
MOST_SAMPLES = (2**32 - 1 - 64) // _FRAME_BYTES
"""A WAV file counts its bytes in 32 bits: 6.2 hours at 48 kHz."""


class WavFile:
    """One file, written front to back. Used by one thread."""

    def __init__(self, path: Path, rate_hz: int, most_samples: int = MOST_SAMPLES) -> None:
        """Create the file; one that is there is replaced.

        Args:
            path: The file.
            rate_hz: Samples per second.
            most_samples: Beyond it nothing is written.

        Raises:
            OSError: The disk does not take it.
        """
        self.written = 0
        """Samples (of both channels together) so far."""
        self._most = most_samples
        self._file = path.open("wb")
        self._wave: wave.Wave_write = wave.Wave_write(self._file)
        self._wave.setparams((CHANNELS, 2, rate_hz, 0, "NONE", ""))

    def write(self, samples: NDArray[np.float32]) -> None:
        """Append samples and hand them to the system.

        Args:
            samples: (n, 2), left and right, within -1 to 1; beyond is clipped.

        Raises:
            OSError: The disk is full or gone, or the file has reached the format's size.
        """
        if self.written + len(samples) > self._most:
            raise OSError(errno.EFBIG, "the format ends at 4 GiB, some 6 hours")
        whole = np.rint(np.clip(samples, -1.0, 1.0) * _FULL_SCALE).astype(np.int16)
        self._wave.writeframes(whole.tobytes())
        self._file.flush()
        self.written += len(samples)

    def close(self) -> None:
        """Close the file; safe to repeat, never fails: what is written stays as it is."""
        with contextlib.suppress(OSError):
            self._wave.close()
        with contextlib.suppress(OSError):
            self._file.close()
