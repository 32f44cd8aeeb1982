"""Poses as they come: a capture thread, and a thread for each pose model.

Two models with one inference thread each do more than one model with two: spread over two threads
a picture is sooner done while both cores are free, but those threads wait for each other by
spinning, which beside the rest of the station took half as much processor time again.
"""

from __future__ import annotations

import threading

from station.clock import Clock, WallClock
from station.errors import DeviceTrouble
from station.live.feed import JOIN_S, RECEIVE_S, Gaps, Seen, faults_of
from station.live.pose_rate import PoseRate
from station.live.pose_threads import Order, PoseThreads, hung
from station.live.slot import NewestSlot
from station.live.worker import Worker
from station.ports import EndOfStream, FrameSource, PoseModel, SourceInfo
from station.values import Fault, Frame

FIRST_S = 5.0


class ThreadedFeed:
    """Between the capture thread and the models' a slot of one, in which the newest wins."""

    def __init__(self, source: FrameSource, *models: PoseModel) -> None:
        """Keep source and models; each is used by its own thread from `start` on.

        Args:
            source: Not yet started.
            models: One or more; the one that is free takes the newest frame.
        """
        self._source = source
        self._models = models
        self._frames: NewestSlot[Frame] = NewestSlot()
        self._pictures: NewestSlot[Frame] = NewestSlot()
        self._rate = PoseRate()
        self._gaps = Gaps()
        self._taking = threading.Lock()
        self._anew = tuple(threading.Event() for _ in models)
        self._end: EndOfStream | None = None
        self._capture = Worker("station-capture", self._capture_turn, self._frames.close)
        self._poses = PoseThreads(models, self._take, lambda: self._frames.over)
        self._started = False
        self._captures = 0

    def start(self, clock: Clock) -> SourceInfo:
        """Open the source, start the session's time and all threads.

        A recording's first picture is worked out before time starts: a model's first picture
        takes several times as long, and those behind it would all come late.
        """
        info = self._source.start(clock, paced=True)
        if not info.live:
            self._take_first()
        if isinstance(clock, WallClock):
            clock.restart()
        self._started = True
        self._poses.start()
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
            self._poses.find_here(frame)

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

    def _take(self, number: int) -> Order | None:
        """Give a model the newest frame; while one waits for a frame, the others wait for it."""
        if not self._taking.acquire(timeout=RECEIVE_S):
            return None
        try:
            frame = self._frames.take(RECEIVE_S)
            if frame is None:
                return None
            place = self._poses.begin()
        finally:
            self._taking.release()
        anew = self._anew[number].is_set()
        self._anew[number].clear()
        return Order(frame, place, anew)

    @property
    def ticks(self) -> tuple[int, ...]:
        """Turns of the capture thread and of the models': all rise as long as these are at work."""
        return self._captures, *self._poses.turns

    def next(self, timeout_s: float) -> Seen | None:
        """Return the next pose that waits."""
        seen = self._poses.next(timeout_s)
        if seen is None and self._poses.over:
            self._capture.raise_failure()
            raise self._end or EndOfStream()
        return seen

    def waiting(self) -> Seen | None:
        """Return what the models' threads have put down meanwhile."""
        return self._poses.next(0.0)

    def picture(self) -> Frame | None:
        """Return the newest picture where the pose models are behind; None: wait for its pose."""
        return self._pictures.take(0.0) if self._rate.pictures_go_on else None

    def faults(self) -> tuple[Fault, ...]:
        """Return what is amiss with the pose models, and whether they cannot keep up."""
        lowered = self._rate.fault
        return (*faults_of(*self._models), *(() if lowered is None else (lowered,)))

    def detect_anew(self) -> None:
        """Ask for it of each model's next frame."""
        for anew in self._anew:
            anew.set()

    @property
    def captured(self) -> int:
        """Frames captured so far."""
        return self._gaps.captured

    @property
    def dropped(self) -> int:
        """Frames that the source, the slot or the poses' queue let go."""
        return self._gaps.missing + self._frames.dropped + self._poses.dropped

    def stop(self) -> None:
        """End all threads, then close source and models; at most a few seconds."""
        if not self._started:
            self._source.stop()
            self._poses.stop()
            return
        self._capture.ask_to_stop()
        self._frames.close()
        ended = self._poses.stop()
        if not self._capture.join(JOIN_S):
            raise DeviceTrouble(
                "the camera's driver does not return; unplug the camera and plug it in again"
            )
        self._source.stop()
        if not ended:
            raise hung()
