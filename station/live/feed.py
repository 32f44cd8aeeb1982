"""Where the loop gets its poses from: in lock step, from two threads, or from a trace."""

from __future__ import annotations

import threading
from dataclasses import dataclass
from typing import Protocol, runtime_checkable

from station.clock import Clock, StreamClock, WallClock
from station.errors import DeviceTrouble
from station.live.pose_rate import PoseRate
from station.live.slot import NewestSlot
from station.live.worker import Worker
from station.ports import EndOfStream, FaultTeller, FrameSource, PoseModel, PoseSource, SourceInfo
from station.values import Fault, Frame, Pose

RECEIVE_S = 0.1
"""How long a thread waits for one frame before it looks whether it is to stop."""
FIRST_S = 5.0
JOIN_S = 3.0
POSES_WAITING = 8
"""Poses that the loop has not fetched yet: about the time of one slow picture."""


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


def faults_of(part: object) -> tuple[Fault, ...]:
    """Return what a part says to be amiss with it; nothing where it cannot tell."""
    return part.faults() if isinstance(part, FaultTeller) else ()


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

    def __init__(self, source: FrameSource, model: PoseModel, clock: StreamClock) -> None:
        """Keep the source, the model and the clock that both are led by."""
        self._source = source
        self._model = model
        self._clock = clock
        self._gaps = Gaps()

    def waiting(self) -> Seen | None:
        """None: each pose is given when it is asked for."""
        return None

    def faults(self) -> tuple[Fault, ...]:
        """Return what is amiss with the pose model."""
        return faults_of(self._model)

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

    def start(self, clock: Clock) -> SourceInfo:
        """Open the source."""
        return self._source.start(clock, paced=False)

    def next(self, timeout_s: float) -> Seen | None:
        """Return the next frame's pose."""
        frame = self._source.receive(timeout_s)
        if frame is None:
            return None
        self._gaps.take(frame.index)
        pose = self._model.find(frame)
        self._clock.move_to(frame.t_s)
        return Seen(frame, pose)

    def detect_anew(self) -> None:
        """Pass it on to the model."""
        self._model.detect_anew()

    def stop(self) -> None:
        """Close source and model."""
        try:
            self._source.stop()
        finally:
            self._model.close()


class ThreadedFeed:
    """A capture thread and a pose thread; between them a slot of one in which the newest wins."""

    def __init__(self, source: FrameSource, model: PoseModel) -> None:
        """Keep source and model; each is used by its own thread from `start` on."""
        self._source = source
        self._model = model
        self._frames: NewestSlot[Frame] = NewestSlot()
        self._seen: NewestSlot[Seen] = NewestSlot(POSES_WAITING)
        self._pictures: NewestSlot[Frame] = NewestSlot()
        self._rate = PoseRate()
        self._gaps = Gaps()
        self._anew = threading.Event()
        self._end: EndOfStream | None = None
        self._capture = Worker("station-capture", self._capture_turn, self._frames.close)
        self._pose = Worker("station-pose", self._pose_turn, self._seen.close)
        self._started = False
        self._captures = self._poses = 0

    def start(self, clock: Clock) -> SourceInfo:
        """Open the source, start the session's time and both threads.

        A recording's first picture is worked out before time starts: a model's first picture
        takes several times as long, and those behind it would all come late.
        """
        info = self._source.start(clock, paced=True)
        if not info.live:
            self._take_first()
        if isinstance(clock, WallClock):
            clock.restart()
        self._started = True
        self._pose.start()
        self._capture.start()
        return info

    def _take_first(self) -> None:
        try:
            frame = self._source.receive(FIRST_S)
        except EndOfStream as end:
            self._end = end
            self._frames.close()
            return
        if frame is not None:
            self._gaps.take(frame.index)
            self._seen.put(Seen(frame, self._model.find(frame)))

    def _capture_turn(self) -> bool:
        self._captures += 1
        try:
            frame = self._source.receive(RECEIVE_S)
        except EndOfStream as end:
            self._end = end
            return False
        if frame is not None:
            self._gaps.take(frame.index)
            self._rate.captured(frame.t_s, left_out=self._frames.put(frame))
            if self._rate.pictures_go_on:
                self._pictures.put(frame)
        return True

    def _pose_turn(self) -> bool:
        self._poses += 1
        frame = self._frames.take(RECEIVE_S)
        if frame is None:
            return not self._frames.over
        if self._anew.is_set():
            self._anew.clear()
            self._model.detect_anew()
        self._seen.put(Seen(frame, self._model.find(frame)))
        return True

    @property
    def ticks(self) -> tuple[int, int]:
        """Turns of the capture and of the pose thread: both rise as long as these are at work."""
        return self._captures, self._poses

    def next(self, timeout_s: float) -> Seen | None:
        """Return the next pose that waits."""
        seen = self._seen.take(timeout_s)
        if seen is not None:
            return seen
        self._pose.raise_failure()
        if self._seen.over:
            self._capture.raise_failure()
            raise self._end or EndOfStream()
        return None

    def waiting(self) -> Seen | None:
        """Return what the pose thread has put down meanwhile."""
        return self._seen.take(0.0)

    def picture(self) -> Frame | None:
        """Return the newest picture where the pose model is behind; None: wait for its pose."""
        return self._pictures.take(0.0) if self._rate.pictures_go_on else None

    def faults(self) -> tuple[Fault, ...]:
        """Return what is amiss with the pose model, and whether it cannot keep up."""
        lowered = self._rate.fault
        return (*faults_of(self._model), *(() if lowered is None else (lowered,)))

    def detect_anew(self) -> None:
        """Ask the pose thread for it."""
        self._anew.set()

    @property
    def captured(self) -> int:
        """Frames captured so far."""
        return self._gaps.captured

    @property
    def dropped(self) -> int:
        """Frames that the source, the slot or the poses' queue let go."""
        return self._gaps.missing + self._frames.dropped + self._seen.dropped

    def stop(self) -> None:
        """End both threads, then close source and model; at most a few seconds."""
        if not self._started:
            self._source.stop()
            self._model.close()
            return
        self._capture.ask_to_stop()
        self._pose.ask_to_stop()
        self._frames.close()
        ended = self._pose.join(JOIN_S)
        if ended:  # a model in use must not be taken away from its thread
            self._model.close()
        if not self._capture.join(JOIN_S):
            raise DeviceTrouble(
                "the camera's driver does not return; unplug the camera and plug it in again"
            )
        self._source.stop()
        if not ended:
            raise DeviceTrouble("the pose model does not return; start the station anew")


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
