import threading
from collections.abc import Iterator

import pytest


@pytest.fixture(autouse=True)
def _no_thread_left() -> Iterator[None]:
    before = set(threading.enumerate())
    yield
    left = [thread.name for thread in threading.enumerate() if thread not in before]
    assert not left, f"threads left running: {left}"
