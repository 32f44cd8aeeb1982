"""Asks SDL whether the output that pygame's mixer plays through is still there.

When a device goes away SDL goes on taking samples at about the right pace and throws them away;
pygame tells of it only by an event, which nobody gets without a window. SDL itself knows: its
`SDL_GetAudioDeviceStatus` is asked in the very library that pygame carries.
"""

from __future__ import annotations

import contextlib
import ctypes
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

_STOPPED = 0
_NUMBERS = range(2, 18)  # SDL numbers the devices it opens from 2 on, 16 at most


def output_status(pygame: Any) -> Callable[[], bool] | None:
    """Return what tells whether the outputs open now are all still there.

    Args:
        pygame: With its mixer initialised.

    Returns:
        To be asked at any time; None: SDL cannot be asked here, so nobody can tell.
    """
    for path in _libraries(Path(pygame.__file__).parent):
        with contextlib.suppress(OSError, AttributeError):
            status = ctypes.CDLL(str(path)).SDL_GetAudioDeviceStatus
            ours = [number for number in _NUMBERS if status(number) != _STOPPED]
            if ours:
                return lambda: all(status(number) != _STOPPED for number in ours)
    return None


def _libraries(package: Path) -> list[Path]:
    """Return the SDL libraries that may be pygame's own: those beside it, or one already loaded."""
    folders = (package, package.parent / "pygame.libs", package / ".dylibs")
    beside = [
        path
        for folder in folders
        if folder.is_dir()
        for path in sorted(folder.iterdir())
        if re.match(r"(lib)?SDL2[-.0-9a-f]*\.(so|dylib|dll)", path.name)
    ]
    loaded: list[Path] = []
    with contextlib.suppress(OSError):
        words = Path("/proc/self/maps").read_text().split()
        loaded = sorted({Path(w) for w in words if re.search(r"/libSDL2-[^/]*\.so", w)})
    return loaded or beside
