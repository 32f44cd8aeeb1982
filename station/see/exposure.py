"""Holds a camera's exposure, and tells whether the camera really does it."""

from __future__ import annotations

from dataclasses import dataclass

from station.see.capture import Capture, OpenCapture, open_capture
from station.see.opencv import cv2

_UNIT_S = 1e-4
"""Video4Linux counts exposures in units of 100 microseconds."""
_MANUAL, _AUTO = 1.0, 3.0
"""Video4Linux: manual, and automatic by the aperture's priority."""
_NEAR = 0.3
"""Cameras know steps only: within this share of what was asked it counts as held."""


@dataclass(frozen=True, slots=True)
class Exposure:
    """What a camera says of its exposure."""

    seconds: float | None
    """None: it does not say."""
    held: bool
    """At what was asked for."""
    refused: bool
    """It was asked to hold it, and does not."""


class HeldExposure:
    """Opens cameras as `open_capture` does, and asks each to hold its exposure.

    A camera that comes back after it was unplugged is asked again.
    """

    def __init__(
        self,
        exposure_s: float | None,
        open_device: OpenCapture = open_capture,
        automatic: bool = False,
    ) -> None:
        """Keep what is to be asked.

        Args:
            exposure_s: How long, seconds; None: as the camera has it.
            open_device: Opens the device.
            automatic: Without an exposure, the camera is put back to its own automatic.
        """
        self._exposure_s = exposure_s
        self._automatic = automatic
        self._open = open_device
        self.found = Exposure(None, False, False)
        """As the camera last opened answered."""

    def __call__(self, device: int | str, width: int, height: int, fps: float) -> Capture:
        """Open a device and ask it."""
        capture = self._open(device, width, height, fps)
        if capture.isOpened():
            self.found = self._ask(capture)
        return capture

    def _ask(self, capture: Capture) -> Exposure:
        if self._exposure_s is None:
            if self._automatic:
                capture.set(cv2.CAP_PROP_AUTO_EXPOSURE, _AUTO)
            return Exposure(_seconds(capture), False, False)
        asked = self._exposure_s / _UNIT_S
        done = capture.set(cv2.CAP_PROP_AUTO_EXPOSURE, _MANUAL)
        done &= capture.set(cv2.CAP_PROP_EXPOSURE, max(1.0, round(asked)))
        seconds = _seconds(capture)
        manual = abs(capture.get(cv2.CAP_PROP_AUTO_EXPOSURE) - _MANUAL) < 0.5
        # Held is what the camera says when it is asked back, not that it took the order.
        held = manual and seconds is not None and abs(seconds / self._exposure_s - 1.0) <= _NEAR
        held |= manual and seconds is not None and seconds <= self._exposure_s and done
        return Exposure(seconds, held, not held)


def _seconds(capture: Capture) -> float | None:
    told = capture.get(cv2.CAP_PROP_EXPOSURE)
    return told * _UNIT_S if told > 0.0 else None
