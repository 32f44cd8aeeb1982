"""What is amiss with a camera, gathered by its thread and read by others."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from station.see.move_watch import MoveWatch
from station.see.picture_watch import (
    FROZEN_AFTER_S,
    DarkWatch,
    FrozenWatch,
    RateWatch,
    sample_of,
)
from station.values import Fault

LOST_TOLD_S = 1.0
"""Without a picture for so long it is told; one or two that are missed are nobody's affair."""
TURNED_DEG, STRAIGHT_DEG = 0.6, 0.4
"""From the first on a turned camera misleads, below the second no more: a landing's own error is
1 to 2 deg, and the turn itself is known to 0.1."""


class CameraState:
    """Watches a camera's pictures. Written by one thread; `faults` may be read by any."""

    def __init__(self, asked_fps: float, frozen_after_s: float = FROZEN_AFTER_S) -> None:
        """Begin with nothing amiss.

        Args:
            asked_fps: Pictures a second that the camera was asked for.
            frozen_after_s: How long the same picture must come again and again.
        """
        self.faults: tuple[Fault, ...] = ()
        """What is amiss now; replaced as a whole."""
        self._frozen = FrozenWatch(frozen_after_s)
        self._dark = DarkWatch()
        self._rate = RateWatch(asked_fps)
        self._moved = MoveWatch()
        self._lost = False
        self._turned = False

    @property
    def frozen(self) -> bool:
        """Whether the picture stands still."""
        return self._frozen.frozen

    def picture(self, t_s: float, image: NDArray[np.uint8]) -> bool:
        """Take a picture; return whether it shows something new.

        Args:
            t_s: When it came, session clock.
            image: (height, width, 3) uint8 BGR.
        """
        if self._lost:
            self._lost = False
            self._rate.forget()
        sample = sample_of(image)
        frozen = self._frozen.see(t_s, sample)
        self._dark.see(t_s, sample)
        self._rate.see(t_s)
        if not frozen and not self._dark.dark:
            self._moved.see(t_s, image)
        self._gather(image.shape[1])
        return not frozen

    def nothing(self, silent_s: float) -> None:
        """Take that no picture came, for `silent_s` by now."""
        if silent_s >= LOST_TOLD_S and not self._lost:
            self._lost = True
            self.faults = (Fault("camera_lost", blind=True),)

    def _gather(self, width: int) -> None:
        found = []
        if self._frozen.frozen:
            found.append(Fault("camera_frozen", blind=True))
        if self._dark.dark:
            found.append(Fault("camera_dark", blind=True))
        if self._rate.slow_fps is not None:
            values = (("fps", f"{self._rate.slow_fps:.0f}"), ("asked", f"{self._rate.asked_fps:g}"))
            found.append(Fault("camera_slow", values=values))
        shift = self._moved.shift
        turn_deg = 0.0 if shift is None else shift.turn_deg
        self._turned = turn_deg >= (STRAIGHT_DEG if self._turned else TURNED_DEG)
        if self._turned:
            turned = f"{turn_deg:.1f}"
            found.append(Fault("camera_turned", misleads=True, values=(("degrees", turned),)))
        elif shift is not None:
            pixels = f"{shift.size * width:.0f}"
            found.append(Fault("camera_moved", values=(("pixels", pixels),)))
        self.faults = tuple(found)
