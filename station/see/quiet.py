"""Keep known start-up chatter of C++ libraries off the error stream, and nothing else."""

from __future__ import annotations

import contextlib
import os
import sys
import tempfile
from collections.abc import Iterator, Sequence

STDERR = 2  # the descriptor that C++ code writes to, whatever Python made of sys.stderr


@contextlib.contextmanager
def without_lines(known: Sequence[str]) -> Iterator[None]:
    """Hold the error stream back for the block, then let through all but the known lines.

    Nothing is lost: lines that hold none of the known texts, also those of other threads, come out
    at the end of the block, in order. Where the process has no error stream the block just runs.

    Args:
        known: Texts; a line that contains one of them is dropped.
    """
    try:
        sys.stderr.flush()
        kept = os.dup(STDERR)
    except (OSError, ValueError, AttributeError):  # closed, or none at all (a service, pythonw)
        yield
        return
    held = tempfile.TemporaryFile()  # noqa: SIM115 - closed below, after it was read back
    try:
        os.dup2(held.fileno(), STDERR)
        try:
            yield
        finally:
            os.dup2(kept, STDERR)
    finally:
        os.close(kept)
        with held:
            held.seek(0)
            for line in held:
                if not any(text in line.decode("utf-8", "replace") for text in known):
                    os.write(STDERR, line)
