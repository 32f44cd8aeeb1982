"""Keeps the system's sound libraries from writing on the user's terminal."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterator


@contextlib.contextmanager
def native_chatter_off() -> Iterator[None]:
    """Keep ALSA's own lines about absent devices off the terminal while a device is opened."""
    if sys.stderr is not None:
        sys.stderr.flush()
    try:
        kept = os.dup(2)
    except OSError:  # no stderr at all, as in a service
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 2)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
        os.close(nowhere)
