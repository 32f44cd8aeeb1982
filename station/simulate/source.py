"""The simulated runner as a frame source: draws each frame at its time, hears beats and cues.

Nothing is recorded beforehand: what the runner does next may follow from what it has heard.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Sequence
from typing import Protocol, runtime_checkable

import numpy as np

from station.clock import Clock
from station.errors import BadInput
from station.ports import EndOfStream, SourceInfo
from station.simulate.figure import Figure
from station.simulate.picture import Painter, PictureOptions
from station.values import BeltAsked, Frame, Heard, HopsAsked, Side, TrueStep, View

_BLUR_PICTURES = 5
_HEARD_BOUND = 1024
_BELTS_BOUND = 64
BELT_SET_S = 4.0
"""How long whoever stands beside the belt takes to set it as it is asked."""


class SimulatedRunner(Protocol):
    """What the source needs of a runner."""

    def figure_at(self, t_s: float) -> Figure:
        """Return the body at `t_s`; asked in order of time."""
        ...

    def hear(self, event: Heard) -> None:
        """Take one beat or cue."""
        ...

    def set_belt(self, speed_mps: float) -> None:
        """Run on a belt that is set to another speed from now on, as near as it can."""
        ...

    def truth(self) -> tuple[TrueStep, ...]:
        """Return the true steps decided so far, in order of time."""
        ...


@runtime_checkable
class HoppingRunner(Protocol):
    """A runner who can hop, too."""

    def hop(self, rounds: Sequence[int], first_foot: Side) -> None:
        """Hop by rounds from now on; no rounds: no more hops."""
        ...


class SimulatedSource:
    """A frame source that shows a simulated runner, hears, and tells the truth.

    Each frame's image is a new array which the source never writes to again; it is marked read
    only, as everybody shares it. `hear` may be called from any thread; all else from one.
    """

    def __init__(
        self,
        runner: SimulatedRunner,
        view: View,
        width: int,
        height: int,
        fps: float = 60.0,
        duration_s: float | None = None,
        options: PictureOptions | None = None,
        name: str = "demo",
        others: Callable[[float], tuple[Figure, ...]] | None = None,
    ) -> None:
        """Take what is to be shown; nothing is drawn before `start`.

        Args:
            runner: Whom to show.
            view: How the bay lies in the image.
            width: Image width in pixels.
            height: Image height in pixels.
            fps: Frames per second; frame i is at i / fps.
            duration_s: Where it ends (the frames before that time are given); None: never.
            options: What may be wrong with the picture.
            name: What the source is called.
            others: Gives who else is in the picture at a time, behind the runner; None: nobody.

        Raises:
            BadInput: A size, rate, duration or exposure that cannot be shown.
        """
        options = options or PictureOptions()
        mistakes = []
        if width < 16 or height < 16:
            mistakes.append(f"size {width}x{height}: at least 16x16 pixels")
        if not 1.0 <= fps <= 1000.0:
            mistakes.append(f"fps {fps}: 1 to 1000")
        elif not 0.0 <= options.exposure_s <= 1.0 / fps:
            mistakes.append(f"exposure {options.exposure_s} s: 0 to one frame, {1.0 / fps:.4f} s")
        if duration_s is not None and not duration_s > 0.0:
            mistakes.append(f"duration {duration_s} s: over 0, or none for no end")
        if mistakes:
            raise BadInput(f"source {name!r} cannot be shown", mistakes)
        self._runner = runner
        self._view = view
        self._size = (width, height)
        self._fps = fps
        self._options = options
        self._name = name
        self._others = others
        # A frame that falls on the end to within rounding is not before it.
        self._frames = None if duration_s is None else int(np.ceil(duration_s * fps - 1e-6))
        self._index = 0
        self._shown_s = -np.inf
        self._clock: Clock | None = None
        self._paced = False
        self._painter: Painter | None = None
        self._heard: deque[Heard] = deque()
        self._heard_lock = threading.Lock()
        self._belts: deque[BeltAsked] = deque(maxlen=_BELTS_BOUND)
        self._hops: HopsAsked | None = None
        self.heard_dropped = 0
        """Events lost because nobody asked for frames while they came in."""

    def start(self, clock: Clock, paced: bool) -> SourceInfo:
        """Draw the room and get ready; see `station.ports.FrameSource.start`."""
        self._clock = clock
        self._paced = paced
        self._painter = Painter(self._view, *self._size, self._options)
        return SourceInfo(self._name, *self._size, self._fps, live=False, frames=self._frames)

    def receive(self, timeout_s: float) -> Frame | None:
        """Draw and return the next frame, or None when its time has not come in `timeout_s`.

        Args:
            timeout_s: How long to wait for the frame's time, where paced.

        Returns:
            The next frame; a late one at once, none is left out.

        Raises:
            EndOfStream: All frames have been given, or the source is stopped.
        """
        if self._clock is None or self._painter is None:
            raise EndOfStream()
        if self._frames is not None and self._index >= self._frames:
            raise EndOfStream()
        t_s = self._index / self._fps
        if self._paced and not self._clock.wait_until(t_s, timeout_s):
            return None
        self._pass_on_heard()
        self._set_belt(t_s)
        if self._others is not None:
            self._painter.others = self._others(t_s)
        image = self._painter.paint(*(self._runner.figure_at(t) for t in self._instants(t_s)))
        image.flags.writeable = False
        frame = Frame(t_s, self._index, image)
        self._index += 1
        self._shown_s = t_s
        return frame

    def stop(self) -> None:
        """End the stream; safe to repeat. The truth can still be asked for."""
        self._clock = None
        self._painter = None

    def hear(self, event: Heard) -> None:
        """Keep one beat or cue for the runner, who gets it with the next frame; thread-safe."""
        with self._heard_lock:
            if len(self._heard) >= _HEARD_BOUND:
                self._heard.popleft()
                self.heard_dropped += 1
            self._heard.append(event)

    def ask_belt(self, asked: BeltAsked) -> None:
        """Set the belt as it is asked, after `BELT_SET_S`, as a person would; thread-safe.

        Its incline stays: a simulated belt's slope cannot be changed.
        """
        with self._heard_lock:
            self._belts.append(asked)

    def ask_hops(self, asked: HopsAsked) -> None:
        """Have the runner hop, with the next frame; the newest counts; thread-safe."""
        with self._heard_lock:
            self._hops = asked

    def truth(self) -> tuple[TrueStep, ...]:
        """Return the true steps whose contact has been shown so far, in order of time."""
        return tuple(step for step in self._runner.truth() if step.t_contact_s <= self._shown_s)

    def _instants(self, t_s: float) -> list[float]:
        """Return the times within the exposure (its middle is the frame's time), rising."""
        exposure_s = self._options.exposure_s
        if exposure_s <= 0.0:
            return [t_s]
        shares = (np.arange(_BLUR_PICTURES) + 0.5) / _BLUR_PICTURES - 0.5
        return [max(0.0, t_s + float(share) * exposure_s) for share in shares]

    def _set_belt(self, t_s: float) -> None:
        with self._heard_lock:
            due = [asked for asked in self._belts if asked.t_s + BELT_SET_S <= t_s]
            for asked in due:
                self._belts.remove(asked)
        if due:
            self._runner.set_belt(due[-1].speed_mps)

    def _pass_on_heard(self) -> None:
        with self._heard_lock:
            events = tuple(self._heard)
            self._heard.clear()
            hops, self._hops = self._hops, None
        if hops is not None and isinstance(self._runner, HoppingRunner):
            self._runner.hop(hops.rounds, hops.first_foot)
        for event in events:
            self._runner.hear(event)
