"""Shows a supervisor that the station is at work: only while screen and threads really go on."""

from __future__ import annotations

from collections.abc import Callable, Sequence


class Heartbeat:
    """Beats only where everything has moved on since the last beat. Used by the loop's thread."""

    def __init__(self, beat: Callable[[], None], every_s: float) -> None:
        """Begin without a beat.

        Args:
            beat: Tells the supervisor.
            every_s: Least time between two beats: a third of what the supervisor waits, or less.
        """
        self._beat = beat
        self._every_s = every_s
        self._last_s = float("-inf")
        self._counts: tuple[int, ...] | None = None

    def turn(self, t_s: float, counts: Sequence[int]) -> None:
        """Take how far everything is; beat where it is time and all have moved on.

        Args:
            t_s: Any clock that always rises.
            counts: Of pictures shown and of each thread's turns: each rises while its part works,
                also where there is nothing to do.
        """
        if t_s - self._last_s < self._every_s:
            return
        now = tuple(counts)
        if self._counts is None:
            self._counts = now
            return
        if len(now) == len(self._counts) and any(
            count <= before for count, before in zip(now, self._counts, strict=True)
        ):
            return  # something hangs: the supervisor will miss the beat
        self._counts, self._last_s = now, t_s
        self._beat()
