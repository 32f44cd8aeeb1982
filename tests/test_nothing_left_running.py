"""The watch in conftest.py, itself watched: a test that leaves something running fails."""

from __future__ import annotations

from pathlib import Path

import pytest

pytest_plugins = "pytester"

LEAKY = """
import threading

import pygame
import pytest

go_on = threading.Event()


def start(name, daemon):
    thread = threading.Thread(target=go_on.wait, name=name, daemon=daemon)
    thread.start()
    return thread


def test_leaves_thread():
    start("pose", daemon=False)


def test_leaves_daemon():
    start("camera", daemon=True)


def test_leaves_mixer():
    pygame.mixer.init()


def test_leaves_display():
    pygame.display.init()


def test_ends_all():
    stop = threading.Event()
    thread = threading.Thread(target=stop.wait, name="tidy")
    thread.start()
    stop.set()
    thread.join(5.0)
    pygame.mixer.init()
    pygame.mixer.quit()
    pygame.display.init()
    pygame.display.quit()


@pytest.fixture
def worker():
    stop = threading.Event()
    thread = threading.Thread(target=stop.wait, name="of a fixture")
    thread.start()
    yield thread
    stop.set()
    thread.join(5.0)


def test_fixture_ends_its_thread(worker):
    assert worker.is_alive()


def test_let_the_process_end():
    go_on.set()
"""

STREAM = '''
import conftest_under_test as watch


class Stream:
    """Stands for a sounddevice stream: the machine need have no sound card."""

    def __init__(self):
        self.closed = False

    def abort(self):
        pass

    def close(self):
        self.closed = True


watch.remember_streams(Stream)
kept = []


def test_leaves_stream():
    kept.append(Stream())


def test_closes_stream():
    kept.append(Stream())
    kept[-1].close()
'''


@pytest.fixture
def conftest_text() -> str:
    return (Path(__file__).parent / "conftest.py").read_text(encoding="utf-8")


def test_threads_and_pygame_parts_left_running_fail(
    pytester: pytest.Pytester, conftest_text: str
) -> None:
    pytester.makeconftest(conftest_text)
    pytester.makepyfile(LEAKY)

    result = pytester.runpytest_subprocess("-p", "no:cacheprovider", timeout=50)

    result.assert_outcomes(passed=7, errors=4)
    result.stdout.fnmatch_lines(
        [
            "*the test left running: thread 'pose' (not daemon)",
            "*the test left running: thread 'camera' (daemon)",
            "*the test left running: pygame mixer",
            "*the test left running: pygame display",
        ]
    )


def test_audio_stream_left_open_fails(pytester: pytest.Pytester, conftest_text: str) -> None:
    pytester.makeconftest("from conftest_under_test import _nothing_left_running")
    pytester.makepyfile(conftest_under_test=conftest_text, test_stream=STREAM)

    result = pytester.runpytest_subprocess("-p", "no:cacheprovider", timeout=50)

    result.assert_outcomes(passed=2, errors=1)
    result.stdout.fnmatch_lines(["*the test left running: open sounddevice Stream"])
