"""Libraries that only proofs need: asked for politely."""

from __future__ import annotations

import importlib
from types import ModuleType

REMEDY = "python -m pip install -c constraints.txt -e '.[prove]'"


class LibraryMissing(Exception):
    """An independent library is not installed; the text says how to install it."""


def independent(name: str) -> ModuleType:
    """Import a library of the `prove` extra.

    Raises:
        LibraryMissing: It is not installed.
    """
    try:
        return importlib.import_module(name)
    except ImportError as fault:
        raise LibraryMissing(
            f"this proof judges by {name}, which is not installed; remedy: {REMEDY}"
        ) from fault
