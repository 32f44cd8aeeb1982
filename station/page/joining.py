"""Who may use the coach's page: a one-time code, few attempts, a session for each device."""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Callable

CODE_DIGITS = 6
ATTEMPTS = 5
"""Wrong codes in a row, from all devices together, after which nobody is let in for a while and
the code is another: somebody who guesses has 5 tries of a million a minute."""
SHUT_S = 60.0
MOST_DEVICES = 16


class Joining:
    """Keeps the code that is shown and the devices that have joined. One thread at a time."""

    def __init__(self, now_s: Callable[[], float]) -> None:
        """Draw the first code.

        Args:
            now_s: A clock that never jumps, seconds.
        """
        self._now_s = now_s
        self._wrong = 0
        self._shut_until_s = float("-inf")
        self._devices: set[str] = set()
        self.code = _drawn()
        """To be typed on a device; another one as soon as it was used."""

    @property
    def shut_s(self) -> float:
        """How long nobody is let in from now on; 0: a code may be tried."""
        return max(0.0, self._shut_until_s - self._now_s())

    @property
    def devices(self) -> int:
        """How many have joined."""
        return len(self._devices)

    def join(self, code: str) -> str | None:
        """Try a code; spaces in it do not count.

        Returns:
            The device's secret, to be kept by it; None: refused.
        """
        if self.shut_s > 0.0 or len(self._devices) >= MOST_DEVICES:
            return None
        if not hmac.compare_digest("".join(code.split()).encode(), self.code.encode()):
            self._wrong += 1
            if self._wrong >= ATTEMPTS:
                self._wrong = 0
                self._shut_until_s = self._now_s() + SHUT_S
                self.code = _drawn()
            return None
        self._wrong = 0
        self.code = _drawn()
        secret = secrets.token_urlsafe(32)
        self._devices.add(secret)
        return secret

    def knows(self, secret: str | None) -> bool:
        """Return whether a device has joined."""
        return secret is not None and secret in self._devices

    def leave(self, secret: str) -> None:
        """Forget a device; one that is not known does no harm."""
        self._devices.discard(secret)


def _drawn() -> str:
    return f"{secrets.randbelow(10**CODE_DIGITS):0{CODE_DIGITS}d}"
