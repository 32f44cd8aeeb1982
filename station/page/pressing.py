"""What a page may ask for: the keys of the station's own keyboard, and nothing else."""

from __future__ import annotations

import json
from collections import deque

KEYS = frozenset(
    {
        "pause", "previous", "repeat", "next", "go", "rate_up", "rate_down", "speed_up",
        "speed_down", "limit_up", "limit_down", "feedback", "sound", "end",
    }
)  # fmt: skip
LONGEST = 200
"""Characters of a message; the longest that is allowed has some forty."""
BURST, EACH_S = 10, 0.1
"""A thumb cannot press faster: so many at once, and then one each so many seconds."""


def asked(text: str | bytes) -> str | None:
    """Return the key that a message asks for; None: it is none that is allowed.

    Args:
        text: As it came, from anybody: `{"press": KEY}`.
    """
    if len(text) > LONGEST:
        return None
    try:
        told = json.loads(text)
    except (ValueError, RecursionError):
        return None
    if not isinstance(told, dict) or set(told) != {"press"}:
        return None
    key = told["press"]
    return key if isinstance(key, str) and key in KEYS else None


class Pace:
    """Lets one device's messages through as fast as thumbs go; not made for several threads."""

    def __init__(self) -> None:
        """Begin with all that is allowed at once."""
        self._left = float(BURST)
        self._last_s: float | None = None

    def lets(self, now_s: float) -> bool:
        """Return whether one more message may pass at `now_s`, seconds of a clock that rises."""
        if self._last_s is not None:
            self._left = min(float(BURST), self._left + (now_s - self._last_s) / EACH_S)
        self._last_s = now_s
        if self._left < 1.0:
            return False
        self._left -= 1.0
        return True


class Presses:
    """What pages have asked for and the loop has not yet done; any thread may put, one takes."""

    MOST = 64

    def __init__(self) -> None:
        """Begin with none."""
        self._waiting: deque[str] = deque(maxlen=self.MOST)
        self.dropped = 0
        """How many found no room: more than a full minute of thumbs."""

    def put(self, key: str) -> None:
        """Add one; where there is no room, the oldest goes."""
        if len(self._waiting) == self.MOST:
            self.dropped += 1
        self._waiting.append(key)

    def take(self) -> tuple[str, ...]:
        """Return those that wait, oldest first, and forget them."""
        found: list[str] = []
        while self._waiting:
            found.append(self._waiting.popleft())
        return tuple(found)
