"""Talks to the supervisor that started the station: systemd, or one that speaks like it.

The protocol is sd_notify's: datagrams of `KEY=value` lines to the socket that the environment
names. Without a supervisor nothing is sent.
"""

from __future__ import annotations

import contextlib
import os
import socket
from collections.abc import MutableMapping

SOCKET, WATCHDOG = "NOTIFY_SOCKET", "WATCHDOG_USEC"
BEATS = 8
"""Beats within what the supervisor waits for one."""


class Supervisor:
    """The one that started this process, where there is one. Used by one thread."""

    def __init__(self, environment: MutableMapping[str, str] | None = None) -> None:
        """Find it, and keep it to ourselves: programs that we start must not speak in our name.

        Args:
            environment: Names the socket and how long it waits; both are taken out. None: this
                process's.
        """
        given = os.environ if environment is None else environment
        self._address = given.pop(SOCKET, "")
        waits_us = given.pop(WATCHDOG, "")
        given.pop("WATCHDOG_PID", None)
        self.waits_s = int(waits_us) / 1e6 if waits_us.isdigit() and int(waits_us) > 0 else None
        """So long it waits for a beat; None: for ever."""

    @property
    def beat_every_s(self) -> float:
        """How often to beat; nobody waiting, it is of no matter."""
        return 1.0 if self.waits_s is None else self.waits_s / BEATS

    def ready(self) -> None:
        """Say that the first page stands."""
        self._send("READY=1")

    def beat(self) -> None:
        """Say that everything goes on."""
        self._send("WATCHDOG=1")

    def status(self, text: str) -> None:
        """Say in a line what is being done."""
        self._send(f"STATUS={text}")

    def stopping(self) -> None:
        """Say that the end was asked for."""
        self._send("STOPPING=1")

    def _send(self, line: str) -> None:
        if not self._address:
            return
        address = "\0" + self._address[1:] if self._address.startswith("@") else self._address
        # A supervisor that went away is no reason to end.
        with contextlib.suppress(OSError), socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as to:
            to.setblocking(False)
            to.sendto(line.encode(), address)
