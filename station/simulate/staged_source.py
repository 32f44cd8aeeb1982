"""A simulated source whose runner does what is asked of a body: the bay's visits and its set-up."""

from __future__ import annotations

from station.simulate.picture import PictureOptions
from station.simulate.source import SimulatedSource
from station.simulate.staging import StagedRunner
from station.values import View


class StagedSource(SimulatedSource):
    """A simulated source without an end, with a `StagedRunner` in front of it."""

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
            runner: Who comes, stands, runs and goes.
            view: How the bay lies in the image.
            width: Image width in pixels.
            height: Image height in pixels.
            fps: Frames per second.
            options: What may be wrong with the picture.

        Raises:
            BadInput: See `SimulatedSource`.
        """
        super().__init__(runner, view, width, height, fps, None, options)
        self._staged = runner
