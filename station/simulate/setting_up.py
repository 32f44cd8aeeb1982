"""The simulated bay while it is set up: somebody hangs a plumb line, lays a rod, stands, runs."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from station.simulate.brush import Brush
from station.simulate.picture import PictureOptions
from station.simulate.source import SimulatedSource
from station.simulate.staging import Act, StagedRunner
from station.values import Floats, Frame, View

ROD_M = 1.0
"""Length of the rod that lies along the belt's middle."""
_STRING_X_M = -1.02
_STRING_Y_M = (0.32, 1.85)
_STRING_M = 0.005
_ACTS: dict[str, Act] = {"runner": "stand", "square": "run", "facing": "run", "learn": "run"}


class SetUpSource(SimulatedSource):
    """A simulated source in front of which is done what a step of the set-up asks for."""

    def __init__(
        self,
        runner: StagedRunner,
        view: View,
        width: int,
        height: int,
        fps: float = 60.0,
        options: PictureOptions | None = None,
    ) -> None:
        """Begin with an empty belt.

        Args:
            runner: Who stands and runs.
            view: How the bay lies in the image: the truth that the set-up is to find.
            width: Image width in pixels.
            height: Image height in pixels.
            fps: Frames per second.
            options: What may be wrong with the picture.
        """
        super().__init__(runner, view, width, height, fps, None, options)
        self._staged = runner
        self._true_view = view
        self._light = (options or PictureOptions()).light
        self._step = ""

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
        brush = Brush(image, self._true_view, self._light)
        brush.polygon(_upright(_STRING_X_M - half, low, _STRING_X_M + half, high), (40, 40, 44))
        weight = np.array(
            [(_STRING_X_M - 0.02, low), (_STRING_X_M + 0.02, low), (_STRING_X_M, low - 0.09)]
        )
        brush.polygon(weight, (60, 120, 170))

    def _lay(self, image: NDArray[np.uint8]) -> None:
        rise = math.radians(self._true_view.belt_rise_deg)
        along = np.array([math.cos(rise), math.sin(rise)])
        over = np.array([-math.sin(rise), math.cos(rise)])
        brush = Brush(image, self._true_view, self._light)
        for n in range(10):  # a folding rule's sections
            ends = _upright(n * 0.1 - ROD_M / 2.0, -0.012, (n + 1) * 0.1 - ROD_M / 2.0, 0.012)
            colour = (70, 210, 235) if n % 2 else (60, 190, 215)
            brush.polygon(ends[:, :1] * along + ends[:, 1:] * over, colour)

    @property
    def view(self) -> View:
        """How the bay lies in the image: the truth."""
        return self._true_view

    def rod_ends_px(self) -> Floats:
        """Return where the rod's two ends are, (2, 2) image pixels: the truth."""
        rise = math.radians(self._true_view.belt_rise_deg)
        along = np.array([math.cos(rise), math.sin(rise)]) * ROD_M / 2.0
        return self._true_view.to_image(np.stack([-along, along]))

    def string_ends_px(self) -> Floats:
        """Return where the plumb line's two ends are, (2, 2) image pixels: the truth."""
        low, high = _STRING_Y_M
        return self._true_view.to_image(np.array([(_STRING_X_M, high), (_STRING_X_M, low)]))


def _upright(x0: float, y0: float, x1: float, y1: float) -> Floats:
    return np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])
