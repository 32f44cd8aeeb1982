"""What every test gets: no real window or sound device by accident, and nothing left running."""

from __future__ import annotations

import os

# Before pygame is first imported: tests need no display and no sound card.
os.environ["SDL_VIDEODRIVER"] = "dummy"
os.environ["SDL_AUDIODRIVER"] = "dummy"
os.environ["PYGAME_HIDE_SUPPORT_PROMPT"] = "1"

import sys
import threading
import weakref
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import hypothesis
import pytest

try:
    import sounddevice
except (ImportError, OSError):  # OSError: the PortAudio library is missing
    sounddevice = None

# The same examples in every run: a failure is a failure of the change at hand. For a wider search
# run with `--hypothesis-profile=default`.
hypothesis.settings.register_profile("same", derandomize=True, deadline=None)
hypothesis.settings.load_profile("same")

OPEN_STREAMS: weakref.WeakSet[Any] = weakref.WeakSet()
"""Every sounddevice stream made in this process and not yet forgotten."""


def remember_streams(stream_class: type) -> None:
    """Let every new stream of `stream_class` enter itself into `OPEN_STREAMS`."""
    make: Callable[..., None] = stream_class.__init__  # type: ignore[misc]

    def make_and_remember(self: Any, *args: Any, **kwargs: Any) -> None:
        make(self, *args, **kwargs)
        OPEN_STREAMS.add(self)

    stream_class.__init__ = make_and_remember  # type: ignore[misc]


if sounddevice is not None:
    remember_streams(sounddevice._StreamBase)


def running_threads() -> set[threading.Thread]:
    """Return the live threads that Python code started (a C library's own show as dummies)."""
    return {t for t in threading.enumerate() if not isinstance(t, threading._DummyThread)}


def open_streams() -> set[Any]:
    return {stream for stream in OPEN_STREAMS if not stream.closed}


def open_pygame_parts() -> set[str]:
    """Return which of pygame's mixer and display are up; pygame itself is never imported here."""
    if "pygame" not in sys.modules:
        return set()
    pygame = sys.modules["pygame"]
    return {part for part in ("mixer", "display") if getattr(pygame, part).get_init()}


@pytest.fixture(autouse=True)
def _nothing_left_running() -> Iterator[None]:
    """Fail a test that leaves a thread, an audio stream, the mixer or a display behind.

    It is set up before and torn down after all other fixtures of the test, and puts away what it
    can, so that the next test is judged for itself.
    """
    threads, streams, parts = running_threads(), open_streams(), open_pygame_parts()
    yield
    left = []
    for thread in sorted(running_threads() - threads, key=lambda t: t.name):
        left.append(f"thread '{thread.name}' ({'daemon' if thread.daemon else 'not daemon'})")
    for stream in open_streams() - streams:
        left.append(f"open sounddevice {type(stream).__name__}")
        stream.abort()
        stream.close()
    for part in sorted(open_pygame_parts() - parts):
        left.append(f"pygame {part}")
        getattr(sys.modules["pygame"], part).quit()
    if left:
        pytest.fail("the test left running: " + ", ".join(left), pytrace=False)


LONG = (
    "test_film_sound.py", "test_run_end_to_end.py", "test_simulated_runners.py", "test_grid.py",
    "test_real_trial.py", "test_view_learning.py", "test_pixels.py", "test_properties.py",
    "test_live_bay.py", "test_plans_run.py", "test_gait.py", "test_store_visits.py",
    "test_leg_tracks.py", "test_motion_clip.py", "test_learning_course.py",
    "test_ladder_course.py", "test_records_commands.py", "test_check_command.py",
)  # fmt: skip
"""Files that take long, the longest first: at the end one process would wait for the other."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with the files that take long; the rest as collected, each file's tests together."""
    places = {name: place for place, name in enumerate(LONG)}
    items.sort(key=lambda item: places.get(item.path.name, len(LONG)))


@pytest.fixture(scope="session")
def shared_data() -> Path:
    """Return the folder of recorded data beside the project, which is not part of it."""
    folder = Path(__file__).resolve().parents[2] / "shared" / "data"
    if not folder.is_dir():
        pytest.skip("the recorded data in ../shared/data is not here")
    return folder
