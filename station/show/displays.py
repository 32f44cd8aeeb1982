"""What display there is, without opening a window."""

from __future__ import annotations

import os

from station.errors import DeviceTrouble
from station.show.window import UNSEEN, display_available

os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")
import pygame


def desktop_size() -> tuple[int, int]:
    """Return width and height of the first display, in pixels. Main thread only, no window open.

    Raises:
        DeviceTrouble: There is none.
    """
    if not display_available():
        raise DeviceTrouble("no display: neither DISPLAY nor WAYLAND_DISPLAY is set")
    try:
        pygame.display.init()
        driver = pygame.display.get_driver()
        if driver in UNSEEN and not os.environ.get("SDL_VIDEODRIVER"):
            raise pygame.error(f"no display found, only '{driver}'")
        width, height = pygame.display.get_desktop_sizes()[0]
    except pygame.error as fault:
        raise DeviceTrouble(f"the display cannot be opened: {fault}") from fault
    finally:
        pygame.display.quit()
    return width, height
