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


def canvas(lines: int, whole: bool, desktop: tuple[int, int] | None) -> tuple[int, int]:
    """Return the size of picture to paint for a display.

    Args:
        lines: Its shorter side, pixels; the window enlarges it to what it has.
        whole: The picture is to fill the display: it takes its shape, up to 21 by 9. Otherwise it
            is 16 by 9.
        desktop: The display's width and height; None: not known, taken to lie.

    Returns:
        Width and height, both even, as a film needs them.
    """
    wide, high = desktop or (16, 9)
    long = 16.0 / 9.0
    if whole:
        long = min(max(wide, high) / min(wide, high), 21.0 / 9.0)
    size = (round(lines * long / 2.0) * 2, round(lines / 2.0) * 2)
    return size if wide >= high else (size[1], size[0])


def canvas_here(lines: int, whole: bool) -> tuple[int, int]:
    """Return the size of picture for this machine's display; one that lies where there is none."""
    try:
        desktop: tuple[int, int] | None = desktop_size()
    except DeviceTrouble:  # whoever opens the window then says so
        desktop = None
    return canvas(lines, whole, desktop)
