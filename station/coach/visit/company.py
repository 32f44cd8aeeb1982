"""Whether a runner who should be alone has company, from single looks that may err."""

from __future__ import annotations

from collections import deque

LOOKS = 3
"""The last so many looks count; one every second."""
FOUND_IN = 2
"""In so many of them somebody else must have been found: a single one may err."""


class Company:
    """Takes one look after the other. Used by one thread."""

    def __init__(self) -> None:
        """Begin with nobody else seen."""
        self._looks: deque[bool] = deque(maxlen=LOOKS)
        self.present = False
        """Whether somebody else is there; it ends when none of the last looks found anybody."""

    def take(self, found: bool) -> bool | None:
        """Take what one look found.

        Returns:
            True when somebody has come, False when everybody has gone; None: no change.
        """
        self._looks.append(found)
        count = sum(self._looks)
        if not self.present and count >= FOUND_IN:
            self.present = True
            return True
        if self.present and count == 0 and len(self._looks) == LOOKS:
            self.present = False
            return False
        return None
