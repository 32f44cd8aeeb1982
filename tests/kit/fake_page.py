"""A page server without a network: what it was given, and what its pages press."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from station.errors import DeviceTrouble


class FakePageServer:
    """Listens to nobody; a test presses and looks."""

    def __init__(self, taken: bool = False) -> None:
        self.running = False
        self.code = "482913"
        self.devices = 1
        self.stopped = 0
        self.states: list[Mapping[str, Any]] = []
        self.keys: list[str] = []
        self._taken = taken

    def start(self) -> None:
        if self._taken:
            raise DeviceTrouble("coach's page: the port is taken")
        self.running = True

    def show(self, state: Mapping[str, Any]) -> None:
        self.states.append(state)

    def pressed(self) -> tuple[str, ...]:
        keys, self.keys = tuple(self.keys), []
        return keys

    def ask_to_stop(self) -> None:
        self.running = False

    def stop(self) -> None:
        self.stopped += 1
        self.running = False
