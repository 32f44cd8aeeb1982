"""A pose model that is started again when it fails, a few times, and then no more."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable

from station.clock import Clock
from station.errors import BadInput, StationError
from station.ports import PoseModel
from station.values import Fault, Frame, Pose

RESTARTS = 3
WITHIN_S = 60.0
"""So many restarts within so long, and no more: it will not get better by itself."""
SHOWN_S = 5.0


class RenewingModel:
    """The station's `PoseModel`, with another behind it. Used by one thread but for `faults`."""

    def __init__(
        self,
        make: Callable[[], PoseModel],
        clock: Clock,
        log: Callable[[str], None] = lambda _: None,
    ) -> None:
        """Make the first model.

        Args:
            make: Makes a model; takes a second or two.
            clock: The session's.
            log: Told what each failure was.

        Raises:
            StationError: Whatever making the first one raised.
        """
        self.restarts = 0
        self._make = make
        self._clock = clock
        self._log = log
        self._model: PoseModel | None = make()
        self._times_s: deque[float] = deque(maxlen=RESTARTS)
        self._shown_until_s = float("-inf")

    def find(self, frame: Frame) -> Pose:
        """Return the pose in `frame`; where the model fails, of a new one, or nobody.

        Raises:
            BadInput: A picture that no model can take.
            StationError: It has failed too often, or was closed.
        """
        if self._model is None:
            raise StationError("the pose model is closed; make a new one")
        try:
            return self._model.find(frame)
        except BadInput:
            raise
        except Exception as fault:
            self._renew(fault)
        height, width = frame.image.shape[:2]
        return Pose.nobody(frame.t_s, frame.index, width, height)

    def detect_anew(self) -> None:
        """Let the next `find` detect afresh."""
        if self._model is not None:
            self._model.detect_anew()

    def close(self) -> None:
        """Free the model; safe to repeat."""
        model, self._model = self._model, None
        if model is not None:
            model.close()

    def faults(self) -> tuple[Fault, ...]:
        """Return what is amiss; may be called from another thread."""
        if self._clock.now_s() >= self._shown_until_s:
            return ()
        return (Fault("pose_failed", blind=self._shown_until_s == float("inf")),)

    def _renew(self, fault: Exception) -> None:
        now_s = self._clock.now_s()
        self._log(f"{type(fault).__name__}: {fault}")
        full = len(self._times_s) == RESTARTS
        if full and now_s - self._times_s[0] < WITHIN_S:
            raise StationError(
                f"the pose model failed {RESTARTS + 1} times within {WITHIN_S:.0f} s ({fault}); "
                "start the station anew, and if that does not help, install it anew"
            ) from fault
        self._times_s.append(now_s)
        self._shown_until_s = float("inf")
        failed, self._model = self._model, None
        try:
            if failed is not None:
                failed.close()
        except Exception as again:  # a broken graph may not even close
            self._log(f"closing: {type(again).__name__}: {again}")
        self._model = self._make()
        self.restarts += 1
        self._shown_until_s = self._clock.now_s() + SHOWN_S
