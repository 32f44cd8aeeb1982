"""Where the loop gets its poses from: what any feed is to it; in lock step, or from a trace."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol, runtime_checkable

from station.clock import Clock, StreamClock
from station.ports import FaultTeller, FrameSource, PoseModel, PoseSource, SourceInfo
from station.values import Fault, Frame, Pose

RECEIVE_S = 0.1
"""How long a thread waits for one frame before it looks whether it is to stop."""
JOIN_S = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """One pose with the frame that it was found in."""

    frame: Frame | None
    """None: it comes from a trace."""
    pose: Pose

    @property
    def t_s(self) -> float:
        """When its picture was exposed; a pose that goes with a newer picture is older."""
        return self.pose.t_s if self.frame is None else self.frame.t_s


class Feed(Protocol):
    """Gives poses in order of time to the loop's thread."""

    def start(self, clock: Clock) -> SourceInfo:
        """Open the source (raises BadInput, DeviceTrouble) and start what runs beside the loop."""
        ...

    def next(self, timeout_s: float) -> Seen | None:
        """Return the next pose; None: none came in time.

        Raises:
            EndOfStream: There are no more.
            Exception: What ended a thread of the feed.
        """
        ...

    def waiting(self) -> Seen | None:
        """Return a pose that is ready beside the one just given; None: none is."""
        ...

    def detect_anew(self) -> None:
        """Let the pose model detect afresh in the next frame."""
        ...

    @property
    def captured(self) -> int:
        """Frames that the source captured so far, dropped ones included."""
        ...

    @property
    def dropped(self) -> int:
        """Frames that were captured and never reached the loop."""
        ...

    def stop(self) -> None:
        """End the threads and close source and model; bounded in time, safe to repeat."""
        ...


@runtime_checkable
class GivesPictures(Protocol):
    """A feed that can have newer pictures than those with a pose."""

    def picture(self) -> Frame | None:
        """Return a picture that is to be shown before its pose, if it ever has one; None: none."""
        ...


def faults_of(*parts: object) -> tuple[Fault, ...]:
    """Return what parts say to be amiss with them, of each kind one; nothing of who cannot tell."""
    told = (fault for part in parts if isinstance(part, FaultTeller) for fault in part.faults())
    return tuple({fault.key: fault for fault in told}.values())


class Gaps:
    """Counts captured frames by their index: a gap is a frame that the source itself dropped."""

    def __init__(self) -> None:
        """Begin before the first frame."""
        self.received = 0
        self.missing = 0
        self._last: int | None = None

    def take(self, index: int) -> None:
        """Take the index of a frame that came."""
        if self._last is not None and index > self._last + 1:
            self.missing += index - self._last - 1
        self._last = index
        self.received += 1

    @property
    def captured(self) -> int:
        """Frames that the source has captured, those included that it dropped itself."""
        return self.received + self.missing


class InOrderFeed:
    """What feeds share that give every frame in order, as fast as it goes: exactly repeatable."""

    def __init__(
        self, source: FrameSource, models: Sequence[PoseModel], clock: StreamClock
    ) -> None:
        """Keep the source, the models and the clock that all are led by."""
        self._source = source
        self._models = tuple(models)
        self._clock = clock
        self._gaps = Gaps()

    def waiting(self) -> Seen | None:
        """None: each pose is given when it is asked for."""
        return None

    def faults(self) -> tuple[Fault, ...]:
        """Return what is amiss with the pose models."""
        return faults_of(*self._models)

    @property
    def captured(self) -> int:
        """Frames given so far."""
        return self._gaps.captured

    @property
    def dropped(self) -> int:
        """Frames that the source could not give."""
        return self._gaps.missing


class LockStepFeed(InOrderFeed):
    """All in the loop's thread.

    Moves the stream's clock to each frame's time before the loop sees it.
    """

    def __init__(self, source: FrameSource, model: PoseModel, clock: StreamClock) -> None:
        """Keep the source, the model and the clock that both are led by."""
        super().__init__(source, (model,), clock)

    def start(self, clock: Clock) -> SourceInfo:
        """Open the source."""
        return self._source.start(clock, paced=False)

    def next(self, timeout_s: float) -> Seen | None:
        """Return the next frame's pose."""
        frame = self._source.receive(timeout_s)
        if frame is None:
            return None
        self._gaps.take(frame.index)
        pose = self._models[0].find(frame)
        self._clock.move_to(frame.t_s)
        return Seen(frame, pose)

    def detect_anew(self) -> None:
        """Pass it on to the model."""
        self._models[0].detect_anew()

    def stop(self) -> None:
        """Close source and model."""
        try:
            self._source.stop()
        finally:
            self._models[0].close()


class TraceFeed:
    """Ready poses of a trace, as fast as they go."""

    def __init__(self, source: PoseSource, clock: StreamClock) -> None:
        """Keep the trace and the clock that it leads."""
        self._source = source
        self._clock = clock
        self._count = 0

    def start(self, clock: Clock) -> SourceInfo:
        """Open the trace."""
        return self._source.start()

    def next(self, timeout_s: float) -> Seen | None:
        """Return the next pose."""
        pose = self._source.receive()
        self._count += 1
        self._clock.move_to(pose.t_s)
        return Seen(None, pose)

    def waiting(self) -> Seen | None:
        """None: one pose at a time."""
        return None

    def detect_anew(self) -> None:
        """Nothing: a trace is what it is."""

    @property
    def captured(self) -> int:
        """Poses given so far."""
        return self._count

    @property
    def dropped(self) -> int:
        """None: a trace is worked through whole."""
        return 0

    def stop(self) -> None:
        """Close the trace."""
        self._source.stop()
