"""What the bay's loop needs of the screen, the records and whoever opens a session."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from station.coach.plan import Plan
from station.coach.visit.course import VisitAnswers, VisitChange
from station.coach.visit.offer import Dose, RunnerCaps
from station.coach.visit.page import Page
from station.live.screen import Screen
from station.live.session import Session

Image = NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class BayInput:
    """One thing that was done at the screen."""

    choice: str | None = None
    """The id of a choice that was touched."""
    face: str | None = None
    """What stands on a key that was pressed."""
    leave: bool = False
    """The window was closed."""


class BayScreen(Protocol):
    """Shows pages and the running session, and gives what is done at them."""

    scenes: Screen
    """Where the running session is drawn."""

    def inputs(self) -> tuple[BayInput, ...]:
        """Return what was done since the last call, in order."""
        ...

    def show_page(self, page: Page, picture: Image | None) -> None:
        """Show a page, over the camera's picture where there is one."""
        ...


@dataclass(frozen=True, slots=True)
class KnownRunner:
    """What the records hold of a runner."""

    caps: RunnerCaps
    last: Dose | None = None
    """Of the last visit; None: there was none."""


class RunnerBook(Protocol):
    """The records, as the bay's loop needs them."""

    def find(self, code: str) -> KnownRunner | None:
        """Return a runner that a coach set up; None: there is none of this code."""
        ...


class OpenVisit(Protocol):
    """One visit's session, open."""

    session: Session
    lines: tuple[str, ...]
    """Keys of the words that the summary tells; empty until it is closed."""
    values: tuple[tuple[str, str], ...]
    """What goes into their {fields}."""

    @property
    def notices(self) -> tuple[str, ...]:
        """What the screen should say of the records now."""
        ...

    @property
    def disk_full(self) -> bool:
        """Whether steps wait in memory, since no disk takes them."""
        ...

    def note(self, change: VisitChange) -> None:
        """Keep a change of the visit with its records."""
        ...

    def follow(self) -> None:
        """Keep what has happened since the last call; called each turn."""
        ...

    def close(self, why: str, answers: VisitAnswers) -> None:
        """End the session and write everything; safe to repeat."""
        ...


class OpensVisits(Protocol):
    """Opens a session for a runner and what is offered."""

    def open(self, plan: Plan, answers: VisitAnswers, caps: RunnerCaps) -> OpenVisit:
        """Open it; the session's time goes on from now."""
        ...
