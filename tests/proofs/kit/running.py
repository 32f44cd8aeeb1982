"""What every proof does alike: its options, a private sound server about it, its result lines."""

from __future__ import annotations

import argparse
import contextlib
import json
import os
import sys
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from kit.extra import LibraryMissing
from kit.screen import ScreenMissing, VirtualScreen, virtual_screen
from kit.tones_found import RATE_HZ
from kit.wall_shift import NoCompiler
from pulse import PulseMissing, PulseServer, pulse_server

from station.errors import StationError


def options(
    description: str, **defaults: float | list[float] | bool | tuple[str, ...]
) -> argparse.Namespace:
    """Read a proof's options from the command line.

    Args:
        description: One line.
        defaults: Each is an option of its name: a number, a list of numbers, (bool) a
            switch, or a word of which all that are allowed are given, the default first.
    """
    ask = argparse.ArgumentParser(description=description)
    for name, default in defaults.items():
        if isinstance(default, bool):
            ask.add_argument(f"--{name}", action="store_true")
        elif isinstance(default, tuple):
            ask.add_argument(f"--{name}", choices=default, default=default[0])
        elif isinstance(default, list):
            told = f"default {' '.join(f'{one:g}' for one in default)}"
            ask.add_argument(f"--{name}", type=float, nargs="+", default=default, help=told)
        else:
            ask.add_argument(f"--{name}", type=float, default=default, help=f"default {default:g}")
    return ask.parse_args()


@contextlib.contextmanager
def served() -> Iterator[PulseServer]:
    """Run a private sound server that this process, and what it starts, plays into.

    Raises:
        PulseMissing: The machine lacks what it needs.
    """
    with pulse_server(RATE_HZ) as server:
        # Read by PortAudio, ALSA and SDL when they open: before any speaker is made.
        os.environ.update(server.env)
        yield server


@contextlib.contextmanager
def shown(wanted: bool = True) -> Iterator[VirtualScreen | None]:
    """Run a virtual screen that windows of this process open on; None where none is wanted.

    Raises:
        ScreenMissing: The machine lacks what it needs.
    """
    if not wanted:
        yield None
        return
    with virtual_screen() as screen:
        os.environ.update(screen.env)
        yield screen


def tell(name: str, results: Iterable[Mapping[str, Any]]) -> int:
    """Print each result as one JSON line.

    Args:
        name: Of the proof.
        results: Each with `holds`; worked out as they are asked for.

    Returns:
        The exit code: 0 all hold, 1 one does not, 3 something needed is missing.
    """
    good = True
    try:
        for told in results:
            print(json.dumps(told), flush=True)
            good &= bool(told["holds"])
    except (PulseMissing, ScreenMissing, LibraryMissing, NoCompiler, StationError) as missing:
        print(f"{name}: {missing}", file=sys.stderr)
        return 3
    return 0 if good else 1
