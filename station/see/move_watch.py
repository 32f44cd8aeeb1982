"""Has the camera moved? What stands still at the sides of the picture is held against the start.

The runner is in the middle, so only the two side parts are looked at. Each part's shift is found
by phase correlation of the median of some pictures, in which passers-by are not seen; a part
without texture, or with something new in it, says nothing.
"""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from station.see.opencv import cv2

LOOK_EVERY_S = 1.0
LOOKS = 5
"""Pictures that one background is the median of."""
AGREE = 3
"""Backgrounds in a row that must say the same."""
WIDTH_PX = 320
"""The picture is looked at in this width."""
SIDE_SHARE = 0.34
MOVED = 0.008
"""Share of the picture's width from which it has moved: 10 px of 1280; or a turn of 0.7 deg."""
BACK = 0.004
_TURN = 1.5
_LEAST_RESPONSE = 0.2
"""Of the correlation's peak, 1 where both are the same but for the shift."""
_LEAST_TEXTURE = 4.0
"""Grey levels, standard deviation."""

Grey = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Shift:
    """How far the background lies from where it was, as shares of the picture's width."""

    along: float
    """To the right in the picture."""
    down: float
    turn: float = 0.0
    """How much further down the right side went than the left; 0 where one side says nothing."""

    @property
    def size(self) -> float:
        """The largest of its parts; a turn, which falsifies angles, counts for more."""
        return max(abs(self.along), abs(self.down), _TURN * abs(self.turn))

    @property
    def turn_deg(self) -> float:
        """The turn about the camera's axis, either way, degrees: so much every angle is false."""
        return math.degrees(math.atan(abs(self.turn) / (1.0 - SIDE_SHARE)))


class MoveWatch:
    """Tells whether the camera has moved since the start. Used by one thread."""

    def __init__(self) -> None:
        """Begin without a background."""
        self.shift: Shift | None = None
        """How far it has moved, while it has; None: it has not, as far as can be told."""
        self._looked_s = float("-inf")
        self._looks: deque[Grey] = deque(maxlen=LOOKS)
        self._start: Grey | None = None
        self._window: Grey | None = None
        self._said: deque[Shift | None] = deque(maxlen=AGREE)

    def see(self, t_s: float, image: NDArray[np.uint8]) -> Shift | None:
        """Take a picture; return how far the camera has moved, None: not at all.

        Args:
            t_s: When it came; looked at once a second.
            image: (height, width, 3) uint8 BGR.
        """
        if t_s - self._looked_s < LOOK_EVERY_S:
            return self.shift
        self._looked_s = t_s
        grey = _small(image)
        if self._looks and self._looks[-1].shape != grey.shape:  # another size: another start
            self._looks.clear()
            self._start, self._window, self.shift = None, None, None
        self._looks.append(grey)
        if len(self._looks) < LOOKS:
            return self.shift
        background = np.median(np.stack(self._looks), axis=0).astype(np.float32)
        if self._start is None:
            self._start = background
            return None
        self._said.append(self._shift(self._start, background))
        self._decide()
        return self.shift

    def _decide(self) -> None:
        said = [shift for shift in self._said if shift is not None]
        if len(said) < AGREE:
            return
        sizes = [shift.size for shift in said]
        if self.shift is None and min(sizes) >= MOVED and max(sizes) - min(sizes) <= BACK:
            self.shift = said[-1]
        elif self.shift is not None:
            self.shift = None if max(sizes) < BACK else said[-1]

    def _shift(self, start: Grey, now: Grey) -> Shift | None:
        width = start.shape[1]
        part = round(SIDE_SHARE * width)
        left = self._part_shift(start[:, :part], now[:, :part])
        right = self._part_shift(start[:, width - part :], now[:, width - part :])
        found = [shift for shift in (left, right) if shift is not None]
        if not found:
            return None
        along, down = np.mean(found, axis=0) / width
        turn = 0.0 if left is None or right is None else (right[1] - left[1]) / width
        return Shift(float(along), float(down), float(turn))

    def _part_shift(self, start: Grey, now: Grey) -> tuple[float, float] | None:
        if min(float(start.std()), float(now.std())) < _LEAST_TEXTURE:
            return None
        if self._window is None or self._window.shape != start.shape:
            window: Grey = np.outer(np.hanning(start.shape[0]), np.hanning(start.shape[1]))
            self._window = window.astype(np.float32)
        (along, down), response = cv2.phaseCorrelate(
            np.ascontiguousarray(start), np.ascontiguousarray(now), self._window
        )
        return (along, down) if response >= _LEAST_RESPONSE else None


def _small(image: NDArray[np.uint8]) -> Grey:
    height, width = image.shape[:2]
    scale = min(1.0, WIDTH_PX / width)
    size = (max(8, round(scale * width)), max(8, round(scale * height)))
    small = cv2.resize(image, size, interpolation=cv2.INTER_AREA)
    grey: Grey = cv2.cvtColor(small, cv2.COLOR_BGR2GRAY).astype(np.float32)
    return grey
