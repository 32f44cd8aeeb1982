"""What the stages of a frame's way take, for whoever measures it; nothing where nobody does."""

from __future__ import annotations

import contextlib
import time
from array import array
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, nullcontext

Timer = Callable[[str], AbstractContextManager[None]]
"""Times what is done within, under a name."""
_NOTHING = nullcontext()


def untimed(name: str) -> AbstractContextManager[None]:
    """Time nothing."""
    return _NOTHING


class StageTimes:
    """Keeps how long each stage took, each time. Used by any thread."""

    def __init__(self) -> None:
        """Begin with none."""
        self.taken_s: dict[str, array[float]] = {}
        """By the stage's name, in order."""

    @contextlib.contextmanager
    def time(self, name: str) -> Iterator[None]:
        """Time what is done within; what raises is not counted."""
        begun_s = time.perf_counter()
        yield
        self.taken_s.setdefault(name, array("d")).append(time.perf_counter() - begun_s)
