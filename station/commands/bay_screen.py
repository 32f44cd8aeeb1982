"""The unattended bay's screen: pages that ask, and the running session, in one window."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from station.coach.visit.page import Page
from station.coach.words import Words
from station.live import Screen
from station.live.bay.ports import BayInput
from station.live.screen import Key
from station.show.displays import canvas_here
from station.show.layout import Box
from station.show.legibility import text_scale
from station.show.painter import Painter
from station.show.visit_page import VisitPainter
from station.show.window import Window
from station.values import Bay

Image = NDArray[np.uint8]


class WindowedBay:
    """One window with two painters; to the session's screen it is the window. Main thread only."""

    def __init__(self, bay: Bay, words: Words, fullscreen: bool) -> None:
        """Open the window.

        Raises:
            DeviceTrouble: No window can be opened.
        """
        size = canvas_here(bay.screen_lines, whole=fullscreen)
        scale = text_scale(bay.screen_diagonal_m, bay.viewing_distance_m, *size)
        self._pages = VisitPainter(*size, words)
        self._window = Window(*size, fullscreen)
        self.picture: Image | None = None
        """What is shown now, the painters' own memory."""
        self._asking = False
        self.scenes = Screen(Painter(*size, words, scale, bay.show_legs), self)

    def inputs(self) -> tuple[BayInput, ...]:
        """Return what was done since the last call, in order."""
        found = []
        for answered in self._window.answers():
            choice = None
            if answered.at is not None and self._asking:
                choice = self._pages.choice_at(*answered.at)
            found.append(BayInput(choice, answered.face, answered.closed))
        return tuple(found)

    def show_page(self, page: Page, picture: Image | None) -> None:
        """Show a page, over the camera's picture where there is one."""
        self._asking = True
        self._show(self._pages.paint(page, picture))

    def show(self, image: Image) -> None:
        """Show a picture of the running session."""
        self._asking = False
        self._show(image)

    def show_part(self, image: Image, box: Box) -> None:
        """Show a part of the session's picture anew."""
        self._window.show_part(image, box)

    def events(self) -> tuple[Key, ...]:
        """Return no key: while somebody runs only `inputs` are asked."""
        return ()

    def close(self) -> None:
        """Close the window; safe to repeat."""
        self._window.close()

    def _show(self, picture: Image) -> None:
        self.picture = picture
        self._window.show(picture)
