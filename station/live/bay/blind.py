"""What becomes of an unattended session while the station sees nothing."""

from __future__ import annotations

from typing import Literal

BlindWord = Literal["pause", "resume", "end"]
PAUSE_AFTER_S = 2.0
SEEING_S = 1.0
"""So long pictures must come again before it goes on."""
END_AFTER_S = 60.0
SENTENCE = "cannot_see_you"


class BlindGuard:
    """Pauses a session that is blind, and ends one that stays so. Used by the loop's thread."""

    def __init__(self) -> None:
        """Begin seeing."""
        self._blind_s: float | None = None
        self._seeing_s: float | None = None
        self.paused = False
        """Whether the session is paused by this."""

    def look(self, blind: bool, t_s: float) -> BlindWord | None:
        """Take whether the station is blind now; return what is to be done.

        Args:
            blind: Nothing of the runner can be seen.
            t_s: Session clock.
        """
        if blind:
            self._seeing_s = None
            self._blind_s = t_s if self._blind_s is None else self._blind_s
            if not self.paused and t_s - self._blind_s >= PAUSE_AFTER_S:
                self.paused = True
                return "pause"
            if self.paused and t_s - self._blind_s >= END_AFTER_S:
                self._blind_s = float("inf")  # once
                return "end"
            return None
        if self._blind_s is None:
            return None
        self._seeing_s = t_s if self._seeing_s is None else self._seeing_s
        if t_s - self._seeing_s < SEEING_S:
            return None
        self._blind_s = self._seeing_s = None
        paused, self.paused = self.paused, False
        return "resume" if paused else None
