"""What follows when too many landings are ahead: a note, and in the end a rest is asked for."""

from __future__ import annotations

from station.coach.events import EventLog

OVERLOAD_REST_S = 20.0
"""Cues have stopped, and landings are no better after so long: a rest is asked for."""


class OverloadCourse:
    """One drill's overload. Used by one thread."""

    def __init__(self, log: EventLog) -> None:
        """Begin a drill without overload."""
        self._log = log
        self._since_s: float | None = None
        self.rest_asked = False

    def take(self, on: bool, t_s: float, elapsed_s: float) -> None:
        """Take whether cues have stopped.

        Args:
            on: As the feedback policy decides it.
            t_s: Session clock.
            elapsed_s: Time in the drill; it stands still in a pause.
        """
        if not on:
            if self._since_s is not None:
                self._log.note(t_s, "cues back", "fewer landings ahead")
            self._since_s, self.rest_asked = None, False
        elif self._since_s is None:
            self._since_s = elapsed_s
            self._log.note(t_s, "cues stopped", "more than half of the landings ahead")
        elif not self.rest_asked and elapsed_s - self._since_s >= OVERLOAD_REST_S:
            self.rest_asked = True
            self._log.note(t_s, "rest asked", "landings still ahead without cues")
