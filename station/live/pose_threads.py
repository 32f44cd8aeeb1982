"""Pose models side by side, each in a thread of its own, their poses in the frames' order."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from station.errors import DeviceTrouble
from station.live.feed import JOIN_S, Seen
from station.live.in_turn import InTurn
from station.live.slot import NewestSlot
from station.live.worker import Worker
from station.ports import PoseModel
from station.values import Frame

SIDE_BY_SIDE = 2
"""Models of a session: as many as cores, on the least machine that is good enough."""
POSES_WAITING = 8
"""Poses that the loop has not fetched yet: about the time of one slow picture."""
HELD_BACK = 4
"""So many poses wait for one before them, which may be detected afresh in two and a half times the
usual time; a model that takes longer hangs."""


@dataclass(frozen=True, slots=True, eq=False)
class Order:
    """One frame for one model."""

    frame: Frame
    place: int
    """In the order in which poses are given, from `PoseThreads.begin`."""
    anew: bool
    """Whether the model is to detect afresh."""


class PoseThreads:
    """Fetches frames by itself; poses are fetched by the loop's thread.

    Each model follows the body through the frames that it gets itself.
    """

    def __init__(
        self,
        models: Sequence[PoseModel],
        take: Callable[[int], Order | None],
        over: Callable[[], bool],
    ) -> None:
        """Keep the models; each is used by its own thread from `start` on.

        Args:
            models: One or more.
            take: Gives model number so-and-so its next frame, waiting for it a short while; None:
                none came. Called by that model's thread.
            over: Whether there will be no more. One model's failure ends the others, too: their
                next turn is their last.
        """
        self._models = tuple(models)
        self._take, self._over = take, over
        self._seen: NewestSlot[Seen] = NewestSlot(POSES_WAITING)
        self._in_turn: InTurn[Seen] = InTurn(self._seen.put, HELD_BACK)
        self._turns = [0] * len(self._models)
        self._ended = 0
        self._ending = threading.Lock()
        self._failed = False
        self._workers = tuple(
            Worker("station-pose", self._turn_of(number), self._at_end)
            for number in range(len(self._models))
        )

    @property
    def turns(self) -> tuple[int, ...]:
        """Turns of each thread: all rise as long as all are at work."""
        return tuple(self._turns)

    @property
    def dropped(self) -> int:
        """Poses that nobody fetched, or that came too late."""
        return self._seen.dropped + self._in_turn.given_up

    def start(self) -> None:
        """Start the threads."""
        for worker in self._workers:
            worker.start()

    def begin(self) -> int:
        """Return the place of a frame that is given to a model now."""
        return self._in_turn.begin()

    def find_here(self, frame: Frame) -> None:
        """Have every model find one frame's pose, in the caller's thread, before `start`."""
        place = self.begin()
        poses = [model.find(frame) for model in self._models]
        self._in_turn.done(place, Seen(frame, poses[0]))

    def next(self, timeout_s: float) -> Seen | None:
        """Return the next pose, waiting for it; None: none came in time.

        Raises:
            Exception: What a model failed of, once the poses before have been fetched.
        """
        seen = self._seen.take(timeout_s)
        if seen is None:
            for worker in self._workers:
                worker.raise_failure()
        return seen

    @property
    def over(self) -> bool:
        """Whether all threads have ended and all poses have been fetched."""
        return self._seen.over

    def _turn_of(self, number: int) -> Callable[[], bool]:
        model = self._models[number]

        def turn() -> bool:
            self._turns[number] += 1
            order = self._take(number)
            if order is None:
                return not (self._over() or self._failed)
            if order.anew:
                model.detect_anew()
            try:
                seen = Seen(order.frame, model.find(order.frame))
            except BaseException:
                self._failed = True
                raise
            self._in_turn.done(order.place, seen)
            return not self._failed

        return turn

    def _at_end(self) -> None:
        with self._ending:
            self._ended += 1
            last = self._ended == len(self._workers)
        if last:
            self._seen.close()

    def ask_to_stop(self) -> None:
        """Let each thread end after its present turn; safe to repeat."""
        for worker in self._workers:
            worker.ask_to_stop()

    def stop(self) -> bool:
        """End the threads and close the models whose threads have ended; safe to repeat.

        Returns:
            Whether all have: a model in use must not be taken away from its thread.
        """
        self.ask_to_stop()
        ended = [worker.join(JOIN_S) for worker in self._workers]
        for model, done in zip(self._models, ended, strict=True):
            if done:
                model.close()
        return all(ended)


def hung() -> DeviceTrouble:
    """Return the error of a model whose thread does not end."""
    return DeviceTrouble("the pose model does not return; start the station anew")
