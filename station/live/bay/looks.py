"""Takes the second look once a second: in a thread of its own, or at once where time is a stream's.

The look takes 20 to 50 ms, which would cost the pose model a picture or two each time.
"""

from __future__ import annotations

from typing import Protocol

from station.live.feed import JOIN_S, RECEIVE_S, Seen
from station.live.slot import NewestSlot
from station.live.worker import Worker
from station.ports import LooksTwice

EVERY_S = 1.0


class Looks(Protocol):
    """What the bay's loop needs of whoever takes the looks."""

    def offer(self, seen: Seen) -> None:
        """Take the newest picture; most are not looked at."""
        ...

    def results(self) -> tuple[bool, ...]:
        """Return whether each look since the last call found somebody else, in order."""
        ...

    def stop(self) -> None:
        """Free the model; bounded in time, safe to repeat."""
        ...


class Pace:
    """Picks the pictures to be looked at, by their own times."""

    def __init__(self) -> None:
        """Begin with the first one."""
        self._last_s = float("-inf")

    def due(self, seen: Seen) -> bool:
        """Return whether this one is to be looked at; time that runs backward begins anew."""
        t_s = seen.pose.t_s
        if seen.frame is None or 0.0 <= t_s - self._last_s < EVERY_S - 1e-9:
            return False
        self._last_s = t_s
        return True


class LooksAtOnce:
    """Looks in the loop's own thread: repeatable, for a clip that is worked through."""

    def __init__(self, model: LooksTwice) -> None:
        """Keep the model."""
        self._model = model
        self._pace = Pace()
        self._found: list[bool] = []

    def offer(self, seen: Seen) -> None:
        """Look, if it is time to."""
        if seen.frame is not None and self._pace.due(seen):
            self._found.append(self._model.look(seen.frame, seen.pose))

    def results(self) -> tuple[bool, ...]:
        """Return what was found since the last call."""
        found, self._found = tuple(self._found), []
        return found

    def stop(self) -> None:
        """Free the model."""
        self._model.close()


class LooksBeside:
    """Looks in a thread beside the loop; a picture that waits too long gives way to a newer one."""

    def __init__(self, model: LooksTwice) -> None:
        """Keep the model, used by the thread alone from `start` on."""
        self._model = model
        self._pace = Pace()
        self._wanted: NewestSlot[Seen] = NewestSlot()
        self._found: NewestSlot[bool] = NewestSlot(8)
        self._worker = Worker("station-second-look", self._turn, self._found.close)

    def start(self) -> None:
        """Start the thread."""
        self._worker.start()

    def offer(self, seen: Seen) -> None:
        """Hand the picture over, if it is time to."""
        if self._pace.due(seen):
            self._wanted.put(seen)

    def results(self) -> tuple[bool, ...]:
        """Return what was found since the last call.

        Raises:
            Exception: What ended the thread.
        """
        self._worker.raise_failure()
        found = []
        while (one := self._found.take(0.0)) is not None:
            found.append(one)
        return tuple(found)

    def stop(self) -> None:
        """End the thread, then free the model."""
        self._worker.ask_to_stop()
        self._wanted.close()
        if self._worker.join(JOIN_S):  # a model in use must not be taken away from its thread
            self._model.close()

    def _turn(self) -> bool:
        seen = self._wanted.take(RECEIVE_S)
        if seen is None:
            return not self._wanted.over
        if seen.frame is not None:
            self._found.put(self._model.look(seen.frame, seen.pose))
        return True
