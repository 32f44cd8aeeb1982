"""The window on the runner's screen: shows pictures, gives key events. Main thread only."""

from __future__ import annotations

import os
import sys
from dataclasses import dataclass
from typing import get_args

import cv2
import numpy as np
from numpy.typing import NDArray

from station.errors import DeviceTrouble
from station.show.keys import Command, Digit, KeyEvent
from station.show.layout import Box

os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")
# SDL would draw even a plain picture through OpenGL where that is there. Without a graphics card it
# is worked out by the processor: 13 ms a picture, against 1 ms by plain shared memory.
os.environ.setdefault("SDL_FRAMEBUFFER_ACCELERATION", "0")
import pygame

Image = NDArray[np.uint8]

_COMMANDS: dict[int, Command] = {
    pygame.K_q: "end",
    pygame.K_ESCAPE: "end",
    pygame.K_SPACE: "pause",
    pygame.K_p: "pause",
    pygame.K_PERIOD: "pause",
    pygame.K_KP_PERIOD: "pause",
    pygame.K_b: "pause",
    pygame.K_RIGHT: "next",
    pygame.K_PAGEDOWN: "forward",
    pygame.K_LEFT: "previous",
    pygame.K_PAGEUP: "previous",
    pygame.K_r: "repeat",
    pygame.K_RETURN: "go",
    pygame.K_KP_ENTER: "go",
    pygame.K_F5: "go",
    pygame.K_UP: "rate_up",
    pygame.K_DOWN: "rate_down",
    pygame.K_PLUS: "speed_up",
    pygame.K_EQUALS: "speed_up",
    pygame.K_KP_PLUS: "speed_up",
    pygame.K_MINUS: "speed_down",
    pygame.K_KP_MINUS: "speed_down",
    pygame.K_l: "limit_up",
    pygame.K_k: "limit_down",
    pygame.K_f: "feedback",
    pygame.K_s: "sound",
    pygame.K_c: "strip",
    pygame.K_w: "page",
    pygame.K_j: "still",
    pygame.K_h: "help",
    pygame.K_F1: "help",
}
"""A presenter's clicker sends Page Down and Page Up for on and back, '.' or 'b' for the dark
screen, and F5 and Escape, on some by turns, for begin and end."""
_DIGITS: dict[str, Command] = {digit: digit for digit in get_args(Digit)}
_FACES: dict[int, str] = {
    pygame.K_RETURN: "Enter",
    pygame.K_KP_ENTER: "Enter",
    pygame.K_BACKSPACE: "Back",
    pygame.K_ESCAPE: "Esc",
    pygame.K_SPACE: "Space",
    pygame.K_TAB: "Tab",
    pygame.K_PAGEUP: "PgUp",
    pygame.K_PAGEDOWN: "PgDn",
    pygame.K_LEFT: "Left",
    pygame.K_RIGHT: "Right",
    pygame.K_UP: "Up",
    pygame.K_DOWN: "Down",
}
UNSEEN = ("dummy", "offscreen", "evdev")
"""SDL's ways to show a window to nobody."""
_TYPED: dict[str, Command] = {"+": "speed_up", "-": "speed_down", **_DIGITS}
"""By the sign and not by the key: where it lies differs between keyboards."""


@dataclass(frozen=True, slots=True)
class Answered:
    """One key or touch, as the pages of a visit take it."""

    face: str | None = None
    """What stands on the key: a capital letter, a digit, `Enter`, `Back`, `Esc`, `Space` and the
    like."""
    at: tuple[float, float] | None = None
    """Where the picture was touched or clicked, pixels of the picture."""
    closed: bool = False
    """The window is to be closed."""
    text: str = ""
    """The sign that was typed, as it is written; empty: none."""


def display_available() -> bool:
    """Return whether a window can be hoped for: on Linux and BSD a display must be named."""
    if sys.platform in ("win32", "darwin", "cygwin"):
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


class Window:
    """A window that fits its picture to its own size, or in full screen to the screen's.

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
        self._scaled: Image | None = None
        try:
            pygame.display.init()
            driver = pygame.display.get_driver()
            if driver in UNSEEN and not os.environ.get("SDL_VIDEODRIVER"):
                # SDL falls back on these by itself; nobody would ever see the window.
                raise pygame.error(f"no display found, only '{driver}'")
            # SDL's own scaling shows a torn-off corner on a bare X server without a window
            # manager, as a bay may have: take the whole desktop and fit the picture ourselves.
            self._desktop = pygame.display.get_desktop_sizes()[0]
            whole = self._desktop if fullscreen else self._size
            flags = pygame.FULLSCREEN if fullscreen else pygame.RESIZABLE
            pygame.display.set_mode(whole, flags)
        except pygame.error as fault:
            pygame.display.quit()
            raise DeviceTrouble(
                f"screen: no window can be opened ({fault}); connect a display and set DISPLAY or "
                "WAYLAND_DISPLAY, or run with --headless"
            ) from fault
        pygame.display.set_caption(title)
        pygame.mouse.set_visible(not fullscreen)
        self._keys = None if keys is None else _surface_of(keys).copy()

    @property
    def share(self) -> float:
        """How large the picture is shown now against the full screen; 1 where it fills it."""
        now, _ = self._scale(pygame.display.get_surface().get_size())
        full, _ = self._scale(self._desktop)
        return now / full

    def show_pointer(self) -> None:
        """Show the mouse's pointer, which a full screen hides."""
        pygame.mouse.set_visible(True)

    def show(self, image: Image) -> None:
        """Show a picture at once.

        Args:
            image: (height, width, 3) uint8 BGR of the window's size, text the right way round.

        Raises:
            ValueError: It has another size.
        """
        if image.shape != (self._size[1], self._size[0], 3):
            raise ValueError(f"the window shows {self._size} pictures, not {image.shape}")
        surface = pygame.display.get_surface()
        fitted = self._fit(image, surface.get_size())
        where = fitted.get_rect(center=surface.get_rect().center)
        if where.topleft != (0, 0):
            surface.fill((0, 0, 0))
        surface.blit(fitted, where)
        if self.help_shown and self._keys is not None:
            surface.blit(self._keys, self._keys.get_rect(center=surface.get_rect().center))
        pygame.display.flip()

    def show_part(self, image: Image, box: Box) -> None:
        """Show at once what has changed of a picture, in a fraction of the time of `show`.

        Args:
            image: As `show` takes it; outside the box as it was shown last.
            box: What has changed, in the picture's pixels.
        """
        surface = pygame.display.get_surface()
        scale, (wide, high) = self._scale(surface.get_size())
        left = (surface.get_width() - wide) // 2 + round(box.x * scale)
        top = (surface.get_height() - high) // 2 + round(box.y * scale)
        size = (max(1, round(box.w * scale)), max(1, round(box.h * scale)))
        part = np.ascontiguousarray(image[box.y : box.bottom, box.x : box.right])
        if size != (box.w, box.h):
            part = cv2.resize(part, size, interpolation=cv2.INTER_LINEAR)
        where = surface.blit(_surface_of(part), (left, top))
        if self.help_shown and self._keys is not None:
            surface.blit(self._keys, self._keys.get_rect(center=surface.get_rect().center))
        pygame.display.update(where)

    def _scale(self, room: tuple[int, int]) -> tuple[float, tuple[int, int]]:
        """Return by how much the picture is enlarged, and its size then."""
        scale = min(room[0] / self._size[0], room[1] / self._size[1])
        return scale, (max(1, round(self._size[0] * scale)), max(1, round(self._size[1] * scale)))

    def _fit(self, image: Image, room: tuple[int, int]) -> pygame.Surface:
        """Return the picture as large as the window allows, not distorted."""
        _, (wide, high) = self._scale(room)
        if (wide, high) == self._size:
            return _surface_of(image)
        if self._scaled is None or self._scaled.shape[:2] != (high, wide):
            self._scaled = np.empty((high, wide, 3), np.uint8)
        cv2.resize(image, (wide, high), dst=self._scaled, interpolation=cv2.INTER_LINEAR)
        return _surface_of(self._scaled)

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
                command = _TYPED.get(event.unicode) or _COMMANDS.get(event.key)
            if command == "help":
                self.help_shown = not self.help_shown
            if command is not None:
                found.append(KeyEvent(command))
        return tuple(found)

    def answers(self) -> tuple[Answered, ...]:
        """Return keys and touches since the last call, in order, for pages that ask; never waits.

        Whoever calls this does not call `events`: both take from the same queue.
        """
        found: list[Answered] = []
        for event in pygame.event.get():
            if event.type == pygame.QUIT:
                found.append(Answered(closed=True))
            elif event.type == pygame.KEYDOWN:
                face = _FACES.get(event.key) or event.unicode.upper()
                if face.strip():
                    text = event.unicode if event.unicode.isprintable() else ""
                    found.append(Answered(face=face, text=text))
            elif event.type == pygame.MOUSEBUTTONDOWN and event.button == 1:
                found.append(Answered(at=self._on_picture(event.pos)))
        return tuple(found)

    def _on_picture(self, point: tuple[int, int]) -> tuple[float, float]:
        """Return a point of the window in pixels of the picture that it shows."""
        room = pygame.display.get_surface().get_size()
        scale = min(room[0] / self._size[0], room[1] / self._size[1])
        x, y = (
            (p - (r - s * scale) / 2.0) / scale
            for p, r, s in zip(point, room, self._size, strict=True)
        )
        return x, y

    def close(self) -> None:
        """Close the window; safe to repeat."""
        pygame.display.quit()


def _surface_of(image: Image) -> pygame.Surface:
    """Wrap a BGR picture without copying it."""
    whole = np.ascontiguousarray(image)
    return pygame.image.frombuffer(whole.data, (whole.shape[1], whole.shape[0]), "BGR")
