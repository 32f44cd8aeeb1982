"""What a session knew, and when; and who listens: for proofs of the coach's page."""

from __future__ import annotations

import contextlib
import socket
import time
from typing import Any

from station.live.coach_page import CoachPage
from station.live.scenes import SceneBuilder
from station.live.session import Session


class Overheard:
    """What the session knew, and when: noted as it calls, nothing is changed."""

    def __init__(self) -> None:
        self.page: CoachPage | None = None
        self.session: Session | None = None
        self.landings: list[tuple[int, float]] = []
        self._turn, self._landing = CoachPage.turn, SceneBuilder.landing

    def __enter__(self) -> Overheard:
        def turn(page: CoachPage, session: Session, *given: Any) -> None:
            self.page, self.session = page, session
            self._turn(page, session, *given)

        def landing(scenes: SceneBuilder, *given: Any) -> None:
            self._landing(scenes, *given)
            self.landings.append((scenes.landings, time.time()))

        CoachPage.turn, SceneBuilder.landing = turn, landing  # type: ignore[method-assign]
        return self

    def __exit__(self, *_: object) -> None:
        CoachPage.turn, SceneBuilder.landing = self._turn, self._landing  # type: ignore[method-assign]

    def code(self) -> str:
        assert self.page is not None
        assert self.page._server is not None
        return self.page._server.code


def listens(port: int) -> bool:
    """Whether somebody answers there."""
    with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), 1.0):
        return True
    return False


def free_port() -> int:
    """Return a port that nobody uses now."""
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])
