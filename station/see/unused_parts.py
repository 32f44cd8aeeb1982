"""Import a package without those of its parts that nobody here needs and that take long."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Iterator, Sequence
from types import ModuleType


@contextlib.contextmanager
def without_parts(names: Sequence[str]) -> Iterator[None]:
    """Let the imports of the block find empty modules in the place of some.

    Afterwards they can be imported as they are. One that was imported before is left alone.

    Args:
        names: The modules' full names; an outer one before what lies in it.
    """
    empty = {name: ModuleType(name) for name in names if name not in sys.modules}
    sys.modules.update(empty)
    try:
        yield
    finally:
        for name, module in empty.items():
            if sys.modules.get(name) is module:
                del sys.modules[name]
