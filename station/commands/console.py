"""The output stream of the commands."""

from __future__ import annotations

import sys

from rich.console import Console

_PIPED_WIDTH = 120
"""Columns where the output is no terminal: a file or another program, which does not wrap."""


class OutConsole(Console):
    """The output stream; whoever stops reading it makes no fault."""

    def __init__(self) -> None:
        """Take the terminal's width, or a fixed one where there is none."""
        super().__init__(width=None if sys.stdout.isatty() else _PIPED_WIDTH, highlight=False)

    def on_broken_pipe(self) -> None:
        """Leave it to `main`, which ends quietly."""
        raise BrokenPipeError
