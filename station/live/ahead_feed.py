"""Every frame in order, as fast as it goes, with the pose models ahead of the loop.

The models work in threads of their own on the next frames, in turns, while the loop measures and
draws the one before; in lock step each would wait for the other. What is exactly repeatable stays
so: which model gets which frame, and the order of everything that one thread can know of another,
are fixed, whatever each takes.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence

from station.clock import Clock, StreamClock
from station.errors import StationError
from station.live.feed import RECEIVE_S, InOrderFeed, Seen
from station.live.pose_threads import Order, PoseThreads, hung
from station.live.slot import NewestSlot
from station.ports import EndOfStream, FrameSource, PoseModel, SourceInfo
from station.values import Frame


class AheadFeed(InOrderFeed):
    """Moves the stream's clock to each frame's time before the loop sees it.

    With n models a frame is taken from the source before the loop has worked through the n + 1
    before it: a source that hears beats and cues would hear them late, so such a source is fed by
    `LockStepFeed`. A request to detect anew holds for the next n frames that are not at work.
    """

    def __init__(
        self, source: FrameSource, models: Sequence[PoseModel], clock: StreamClock
    ) -> None:
        """Keep the source, the models and the clock that all are led by."""
        super().__init__(source, models, clock)
        self._orders: tuple[NewestSlot[Order], ...] = tuple(NewestSlot() for _ in self._models)
        self._poses = PoseThreads(
            self._models,
            lambda number: self._orders[number].take(RECEIVE_S),
            lambda: self._orders[0].over,
        )
        self._idle = deque(range(len(self._models)))
        self._busy: deque[int] = deque()
        self._anew: set[int] = set()
        self._next: Frame | None = None
        self._end: Exception | None = None

    def start(self, clock: Clock) -> SourceInfo:
        """Open the source."""
        info = self._source.start(clock, paced=False)
        self._poses.start()
        return info

    def next(self, timeout_s: float) -> Seen | None:
        """Return the next frame's pose."""
        if not self._look_ahead(timeout_s):
            return None
        if not self._busy:
            raise self._end or EndOfStream()
        seen = self._found()
        self._idle.append(self._busy.popleft())
        if self._next is not None:
            self._order_next()
        frame = seen.frame
        assert frame is not None
        self._gaps.take(frame.index)
        self._clock.move_to(frame.t_s)
        return seen

    def _look_ahead(self, timeout_s: float) -> bool:
        """Have every model at work and the frame after at hand, as far as there are frames.

        Returns:
            False where a frame did not come in time.
        """
        while self._next is None and self._end is None:
            try:
                self._next = self._source.receive(timeout_s)
            except Exception as end:  # told of when the frames at work have been given
                self._end = end
                break
            if self._next is None:
                return False
            if self._idle:
                self._order_next()
        return True

    def _order_next(self) -> None:
        """Give the frame at hand to the model that has been idle for longest."""
        frame, self._next = self._next, None
        assert frame is not None
        number = self._idle.popleft()
        self._orders[number].put(Order(frame, self._poses.begin(), number in self._anew))
        self._anew.discard(number)
        self._busy.append(number)

    def _found(self) -> Seen:
        """Wait for the pose, however long it takes: how often the loop turns must not depend on it.

        Raises:
            Exception: What a model failed of.
        """
        while True:
            seen = self._poses.next(RECEIVE_S)
            if seen is not None:
                return seen
            if self._poses.over:
                raise StationError("the pose model's thread has ended")

    def detect_anew(self) -> None:
        """Let each model detect afresh in its next frame but those at work already."""
        self._anew.update(range(len(self._models)))

    def stop(self) -> None:
        """End the threads, close source and models; bounded in time, safe to repeat."""
        self._poses.ask_to_stop()
        for orders in self._orders:
            orders.close()
        try:
            ended = self._poses.stop()
        finally:
            self._source.stop()
        if not ended:
            raise hung()
