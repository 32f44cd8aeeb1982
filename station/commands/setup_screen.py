"""The set-up's window: pages painted, keys, mouse and touch turned into what they mean."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from station.coach.choice import choice_of_key
from station.coach.setup.course import BACK, LEAVE, NEXT, SKIP
from station.coach.setup.page import SetupPage
from station.coach.setup.values import Chosen, Clicked, Done, Nudged, Typed
from station.coach.words import Words
from station.commands.screens import HEIGHT, WIDTH
from station.show.setup_page import SetupPainter
from station.show.window import Answered, Window

Image = NDArray[np.uint8]
_WAYS = {"Enter": NEXT, "PgDn": SKIP, "PgUp": BACK, "Esc": LEAVE}
_ARROWS = {"Left": (-1, 0), "Right": (1, 0), "Up": (0, -1), "Down": (0, 1)}


class WindowedSetup:
    """One window with the set-up's painter. Main thread only."""

    def __init__(self, words: Words, fullscreen: bool) -> None:
        """Open the window.

        Raises:
            DeviceTrouble: No window can be opened.
        """
        self.painter = SetupPainter(WIDTH, HEIGHT, words)
        self._window = Window(WIDTH, HEIGHT, fullscreen)
        self._window.show_pointer()
        self._page: SetupPage | None = None
        self._closed = False
        self.picture: Image | None = None
        """What is shown now, the painter's own memory."""

    @property
    def closed(self) -> bool:
        """The window was closed."""
        return self._closed

    @property
    def share(self) -> float:
        """How large the picture is shown now against the full screen."""
        return self._window.share

    def inputs(self) -> tuple[Done, ...]:
        """Return what was done since the last call, in order."""
        found = []
        for answered in self._window.answers():
            self._closed |= answered.closed
            done = meaning(answered, self._page, self.painter)
            if done is not None:
                found.append(done)
        return tuple(found)

    def show(self, page: SetupPage, picture: Image | None) -> None:
        """Show a page, with the camera's own picture."""
        self._page = page
        self.picture = self.painter.paint(page, picture)
        self._window.show(self.picture)

    def close(self) -> None:
        """Close the window; safe to repeat."""
        self._window.close()


def meaning(answered: Answered, page: SetupPage | None, painter: SetupPainter) -> Done | None:
    """Return what a key, click or touch means on a page; None: nothing.

    Args:
        answered: As the window gives it.
        page: The page that is shown; None: none yet.
        painter: Painted it, and knows where everything is.
    """
    if page is None:
        return None
    if answered.at is not None:
        choice = painter.choice_at(*answered.at)
        if choice is not None:
            return Chosen(choice)
        point = painter.in_picture(*answered.at)
        return None if point is None else Clicked(*point)
    face = answered.face
    if face in _WAYS:
        return Chosen(_WAYS[face])
    if face in _ARROWS:
        return Nudged(*_ARROWS[face])
    entries = page.body.entries
    if face == "Tab" and entries:
        at = next((n for n, entry in enumerate(entries) if entry.active), -1)
        return Chosen(f"entry:{entries[(at + 1) % len(entries)].id}")
    if face == "Back":
        return Typed("erase") if entries else None
    offered = choice_of_key(page.body.offers, face)
    if offered is not None:
        return Chosen(offered)
    return Typed(answered.text) if entries and len(answered.text) == 1 else None
