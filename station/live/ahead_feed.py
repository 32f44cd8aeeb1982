"""Every frame in order, as fast as it goes, with the pose model one frame ahead of the loop.

The model works in a thread of its own on the next frame while the loop measures and draws the one
before; in lock step each would wait for the other. What is exactly repeatable stays so: the order
of everything that one thread can know of the other is fixed, whatever each takes.
"""

from __future__ import annotations

from dataclasses import dataclass

from station.clock import Clock, StreamClock
from station.errors import DeviceTrouble, StationError
from station.live.feed import JOIN_S, RECEIVE_S, InOrderFeed, Seen
from station.live.slot import NewestSlot
from station.live.worker import Worker
from station.ports import EndOfStream, FrameSource, PoseModel, SourceInfo
from station.values import Frame


@dataclass(frozen=True, slots=True, eq=False)
class _Order:
    """One frame for the model."""

    frame: Frame
    anew: bool


class AheadFeed(InOrderFeed):
    """Moves the stream's clock to each frame's time before the loop sees it.

    A frame is taken from the source before the loop has worked through the two before it: a source
    that hears beats and cues would hear them late, so such a source is fed by `LockStepFeed`. A
    request to detect anew holds for the frame after the next.
    """

    def __init__(self, source: FrameSource, model: PoseModel, clock: StreamClock) -> None:
        """Keep the source, the model and the clock that both are led by."""
        super().__init__(source, model, clock)
        self._orders: NewestSlot[_Order] = NewestSlot()
        self._seen: NewestSlot[Seen] = NewestSlot()
        self._worker = Worker("station-pose", self._turn, self._seen.close)
        self._next: Frame | None = None
        self._end: Exception | None = None
        self._at_work = False
        self._anew = False
        self._started = False

    def start(self, clock: Clock) -> SourceInfo:
        """Open the source."""
        info = self._source.start(clock, paced=False)
        self._started = True
        self._worker.start()
        return info

    def next(self, timeout_s: float) -> Seen | None:
        """Return the next frame's pose."""
        if not self._at_work and not self._order_next(timeout_s):
            return None
        if not self._receive(timeout_s):
            return None
        seen = self._found()
        self._at_work = False
        if self._next is not None:
            self._order_next(timeout_s)
        frame = seen.frame
        assert frame is not None
        self._gaps.take(frame.index)
        self._clock.move_to(frame.t_s)
        return seen

    def _receive(self, timeout_s: float) -> bool:
        """Have the next frame ready, or know that there is none; return whether that is so."""
        if self._next is None and self._end is None:
            try:
                self._next = self._source.receive(timeout_s)
            except Exception as end:  # told of when the frame at work has been given
                self._end = end
        return self._next is not None or self._end is not None

    def _order_next(self, timeout_s: float) -> bool:
        """Give the model the next frame; return False where none came in time."""
        if not self._receive(timeout_s):
            return False
        frame, self._next = self._next, None
        if frame is None:
            raise self._end or EndOfStream()
        anew, self._anew = self._anew, False
        self._orders.put(_Order(frame, anew))
        self._at_work = True
        return True

    def _found(self) -> Seen:
        """Wait for the pose, however long it takes: how often the loop turns must not depend on it.

        Raises:
            Exception: What the model failed of.
        """
        while True:
            seen = self._seen.take(RECEIVE_S)
            if seen is not None:
                return seen
            if self._seen.over:
                self._worker.raise_failure()
                raise StationError("the pose model's thread has ended")

    def _turn(self) -> bool:
        order = self._orders.take(RECEIVE_S)
        if order is None:
            return not self._orders.over
        if order.anew:
            self._model.detect_anew()
        self._seen.put(Seen(order.frame, self._model.find(order.frame)))
        return True

    def detect_anew(self) -> None:
        """Let the model detect afresh in the frame after the next, which is at work already."""
        self._anew = True

    def stop(self) -> None:
        """End the thread, close source and model; bounded in time, safe to repeat."""
        self._worker.ask_to_stop()
        self._orders.close()
        ended = not self._started or self._worker.join(JOIN_S)
        try:
            self._source.stop()
        finally:
            if ended:  # a model in use must not be taken away from its thread
                self._model.close()
        if not ended:
            raise DeviceTrouble("the pose model does not return; start the station anew")
