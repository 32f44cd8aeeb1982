"""A camera for proofs: pictures of the simulated runner drawn beforehand, given in real time.

Drawing costs as much as a third of the pose model, on the same cores; a real camera costs next to
nothing. So the pictures are drawn first, kept (only what differs from the empty room), and given
when their time has come. They are repeated without end: the cut lies in the middle of a stance of
the left foot, so that every contact is shown as it was drawn, with its exact truth.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from station.clock import Clock, StreamClock
from station.ports import EndOfStream, SourceInfo
from station.simulate.gait import Runner
from station.simulate.parameters import GaitParameters
from station.simulate.picture import PictureOptions, demo_view
from station.simulate.source import SimulatedSource
from station.values import Frame, TrueStep

WIDTH, HEIGHT = 1280, 720
_AFTER_CONTACT_S = 0.08  # a foot is flat on the belt then: nothing happens at the cut


@dataclass(frozen=True)
class _Part:
    """What of a picture differs from the empty room."""

    x: int
    y: int
    pixels: NDArray[np.uint8]


class Pictures:
    """A runner's pictures from one stance to a later one, with their truth."""

    def __init__(self, way: GaitParameters, fps: float, seconds: float) -> None:
        """Draw them.

        Args:
            way: How the runner runs; nothing is heard.
            fps: Pictures per second.
            seconds: At least so much is drawn, about.
        """
        began_s = time.monotonic()
        self.way = way
        self.fps = fps
        self.room = _one(way, fps, PictureOptions(runner=False))
        runner = Runner(way)
        source = SimulatedSource(runner, demo_view(WIDTH, HEIGHT), WIDTH, HEIGHT, fps)
        source.start(StreamClock(), paced=False)
        start: int | None = None
        self._parts: list[_Part] = []
        contacts: list[TrueStep] = []
        while True:
            frame = source.receive(0.0)
            assert frame is not None
            contacts = [t for t in source.truth() if t.side == "left" and t.t_contact_s > 0.0]
            at_cut = bool(contacts) and (
                frame.index == round((contacts[-1].t_contact_s + _AFTER_CONTACT_S) * fps)
            )
            if start is None and at_cut and frame.t_s > 1.0:
                start = frame.index
            elif start is not None and at_cut and frame.t_s > seconds + 1.0:
                end = frame.index
                break
            if start is not None:
                self._parts.append(self._differing(frame.image))
        assert start is not None
        self._truth = [t for t in source.truth() if start / fps <= t.t_contact_s < end / fps]
        self.start_s = start / fps
        """When picture 0 is, in the runner's own time."""
        source.stop()
        self.drawing_s = time.monotonic() - began_s
        self.megabytes = sum(part.pixels.nbytes for part in self._parts) / 1e6

    def __len__(self) -> int:
        return len(self._parts)

    @property
    def round_s(self) -> float:
        """How long one round lasts."""
        return len(self._parts) / self.fps

    def picture(self, index: int) -> NDArray[np.uint8]:
        """Return picture `index`, any from 0 on, as a new read-only array."""
        part = self._parts[index % len(self._parts)]
        image = self.room.copy()
        h, w = part.pixels.shape[:2]
        image[part.y : part.y + h, part.x : part.x + w] = part.pixels
        image.flags.writeable = False
        return image

    def truth(self, until_s: float) -> tuple[TrueStep, ...]:
        """Return the true steps from picture 0 on to `until_s`, in order of time."""
        steps: list[TrueStep] = []
        turn = 0
        while turn * self.round_s <= until_s:
            shift_s = turn * self.round_s - self.start_s
            steps += [
                replace(
                    t,
                    t_contact_s=t.t_contact_s + shift_s,
                    t_toe_off_s=None if t.t_toe_off_s is None else t.t_toe_off_s + shift_s,
                )
                for t in self._truth
            ]
            turn += 1
        return tuple(step for step in steps if step.t_contact_s <= until_s)

    def _differing(self, image: NDArray[np.uint8]) -> _Part:
        other = (image != self.room).any(axis=2)
        rows, columns = np.flatnonzero(other.any(axis=1)), np.flatnonzero(other.any(axis=0))
        y, x = int(rows[0]), int(columns[0])
        pixels = image[y : int(rows[-1]) + 1, x : int(columns[-1]) + 1].copy()
        return _Part(x, y, pixels)


class PacedPictures:
    """Gives pictures in real time as a camera would: a frame source that knows the truth."""

    def __init__(self, pictures: Pictures, seconds: float) -> None:
        """Keep the pictures; they are given for so many seconds."""
        self._pictures = pictures
        self._frames = round(seconds * pictures.fps)
        self._index = 0
        self.clock: Clock | None = None
        """The session's, once started."""
        self.late_s: list[float] = []
        """How long after its time each picture was given."""

    def start(self, clock: Clock, paced: bool) -> SourceInfo:
        """Take the session's clock."""
        self.clock = clock
        return SourceInfo("pictures", WIDTH, HEIGHT, self._pictures.fps, False, self._frames)

    def receive(self, timeout_s: float) -> Frame | None:
        """Return the next picture when its time has come, else None."""
        if self.clock is None or self._index >= self._frames:
            raise EndOfStream()
        t_s = self._index / self._pictures.fps
        if not self.clock.wait_until(t_s, timeout_s):
            return None
        frame = Frame(t_s, self._index, self._pictures.picture(self._index))
        self.late_s.append(self.clock.now_s() - t_s)
        self._index += 1
        return frame

    def stop(self) -> None:
        """Nothing is open."""

    def truth(self) -> tuple[TrueStep, ...]:
        """Return the true steps shown so far."""
        return self._pictures.truth(self._index / self._pictures.fps)


def _one(way: GaitParameters, fps: float, options: PictureOptions) -> NDArray[np.uint8]:
    """Draw the first picture."""
    source = SimulatedSource(
        Runner(way), demo_view(WIDTH, HEIGHT), WIDTH, HEIGHT, fps, 1.0, options
    )
    source.start(StreamClock(), paced=False)
    frame = source.receive(0.0)
    assert frame is not None
    source.stop()
    return frame.image
