"""The window on the runner's screen: shows pictures, gives key events. Main thread only."""

from __future__ import annotations

import os
import sys
import warnings

import numpy as np
from numpy.typing import NDArray

from station.errors import DeviceTrouble
from station.show.keys import Command, KeyEvent

os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")
import pygame

Image = NDArray[np.uint8]

_COMMANDS: dict[int, Command] = {
    pygame.K_q: "quit",
    pygame.K_ESCAPE: "quit",
    pygame.K_SPACE: "pause",
    pygame.K_p: "pause",
    pygame.K_RIGHT: "next",
    pygame.K_PAGEDOWN: "next",
    pygame.K_LEFT: "previous",
    pygame.K_PAGEUP: "previous",
    pygame.K_UP: "rate_up",
    pygame.K_DOWN: "rate_down",
    pygame.K_PLUS: "speed_up",
    pygame.K_EQUALS: "speed_up",
    pygame.K_KP_PLUS: "speed_up",
    pygame.K_MINUS: "speed_down",
    pygame.K_KP_MINUS: "speed_down",
    pygame.K_s: "sound",
    pygame.K_h: "help",
    pygame.K_F1: "help",
}
_TYPED: dict[str, Command] = {"+": "speed_up", "-": "speed_down"}


def display_available() -> bool:
    """Return whether a window can be hoped for: on Linux and BSD a display must be named."""
    if sys.platform in ("win32", "darwin", "cygwin"):
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


class Window:
    """A window that scales its picture to the screen's size.

    It must be made, used and closed on the main thread. It copies each picture to the display
    within `show`, so the picture may be painted over right afterwards.
    """

    def __init__(
        self,
        width: int,
        height: int,
        fullscreen: bool = False,
        title: str = "Landing Station",
        keys: Image | None = None,
    ) -> None:
        """Open the window.

        Args:
            width: Picture width in pixels.
            height: Picture height in pixels.
            fullscreen: Fill the screen, without a frame.
            title: In the window's frame.
            keys: (h, w, 3) BGR, the card laid over the middle while help is on (`keys_card`);
                None: no card.

        Raises:
            DeviceTrouble: No display can be opened.
        """
        self._size = (width, height)
        self.help_shown = False
        try:
            pygame.display.init()
            flags = pygame.SCALED | (pygame.FULLSCREEN if fullscreen else pygame.RESIZABLE)
            with warnings.catch_warnings():  # without a graphics card scaling is slow, not wrong
                warnings.filterwarnings("ignore", "no fast renderer available")
                self._surface = pygame.display.set_mode(self._size, flags)
        except pygame.error as fault:
            pygame.display.quit()
            raise DeviceTrouble(
                f"screen: no window can be opened ({fault}); connect a display and set DISPLAY or "
                "WAYLAND_DISPLAY, or run with --headless"
            ) from fault
        pygame.display.set_caption(title)
        pygame.mouse.set_visible(not fullscreen)
        self._keys = None if keys is None else _surface_of(keys).copy()

    def show(self, image: Image) -> None:
        """Show a picture at once.

        Args:
            image: (height, width, 3) uint8 BGR of the window's size, text the right way round.

        Raises:
            ValueError: It has another size.
        """
        if image.shape != (self._size[1], self._size[0], 3):
            raise ValueError(f"the window shows {self._size} pictures, not {image.shape}")
        self._surface.blit(_surface_of(image), (0, 0))
        if self.help_shown and self._keys is not None:
            self._surface.blit(
                self._keys, self._keys.get_rect(center=self._surface.get_rect().center)
            )
        pygame.display.flip()

    def events(self) -> tuple[KeyEvent, ...]:
        """Return what was asked for by keys since the last call, in order; never waits.

        `help` has already turned the card on or off when it is returned.
        """
        found: list[KeyEvent] = []
        for event in pygame.event.get():
            command: Command | None = None
            if event.type == pygame.QUIT:
                command = "quit"
            elif event.type == pygame.KEYDOWN:
                command = _COMMANDS.get(event.key) or _TYPED.get(event.unicode)
            if command == "help":
                self.help_shown = not self.help_shown
            if command is not None:
                found.append(KeyEvent(command))
        return tuple(found)

    def close(self) -> None:
        """Close the window; safe to repeat."""
        pygame.display.quit()


def _surface_of(image: Image) -> pygame.Surface:
    """Wrap a BGR picture without copying it."""
    whole = np.ascontiguousarray(image)
    return pygame.image.frombuffer(whole.data, (whole.shape[1], whole.shape[0]), "BGR")
