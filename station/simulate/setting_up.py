"""The simulated bay while it is set up: somebody hangs a plumb line, lays a rod, stands, runs."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from station.simulate.brush import Brush
from station.simulate.room import along_belt, box
from station.simulate.staged_source import StagedSource
from station.simulate.staging import Act
from station.values import Floats, Frame, View

ROD_M = 1.0
"""Length of the rod that lies along the belt's middle."""
_STRING_X_M = -1.02
_STRING_Y_M = (0.32, 1.85)
_STRING_M = 0.005
_ACTS: dict[str, Act] = {"runner": "stand", "square": "run", "facing": "run", "learn": "run"}


class SetUpSource(StagedSource):
    """A simulated source in front of which is done what a step of the set-up asks for."""

    _step = ""

    def set_up(self, step: str) -> None:
        """Do what a step asks for, from the next picture on."""
        if step != self._step:
            self._step = step
            self._staged.act(_ACTS.get(step, "away"))

    def receive(self, timeout_s: float) -> Frame | None:
        """Return the next frame, with the plumb line or the rod in it where a step needs one."""
        frame = super().receive(timeout_s)
        if frame is None or self._step not in ("level", "scale"):
            return frame
        image = frame.image.copy()
        if self._step == "level":
            self._hang(image)
        else:
            self._lay(image)
        image.flags.writeable = False
        return Frame(frame.t_s, frame.index, image)

    def _hang(self, image: NDArray[np.uint8]) -> None:
        low, high = _STRING_Y_M
        half = _STRING_M / 2.0
        brush = Brush(image, self._view, self._options.light)
        brush.polygon(box(_STRING_X_M - half, low, _STRING_X_M + half, high), (40, 40, 44))
        weight = np.array(
            [(_STRING_X_M - 0.02, low), (_STRING_X_M + 0.02, low), (_STRING_X_M, low - 0.09)]
        )
        brush.polygon(weight, (60, 120, 170))

    def _lay(self, image: NDArray[np.uint8]) -> None:
        brush = Brush(image, self._view, self._options.light)
        for n in range(10):  # a folding rule's sections
            section = box(n * 0.1 - ROD_M / 2.0, -0.012, (n + 1) * 0.1 - ROD_M / 2.0, 0.012)
            colour = (70, 210, 235) if n % 2 else (60, 190, 215)
            brush.polygon(along_belt(self._view, section), colour)

    @property
    def view(self) -> View:
        """How the bay lies in the image: the truth."""
        return self._view

    def rod_ends_px(self) -> Floats:
        """Return where the rod's two ends are, (2, 2) image pixels: the truth."""
        ends = np.array([(-ROD_M / 2.0, 0.0), (ROD_M / 2.0, 0.0)])
        return self._view.to_image(along_belt(self._view, ends))

    def string_ends_px(self) -> Floats:
        """Return where the plumb line's two ends are, (2, 2) image pixels: the truth."""
        low, high = _STRING_Y_M
        return self._view.to_image(np.array([(_STRING_X_M, high), (_STRING_X_M, low)]))
