"""Finds the files that are shipped with the station, from any folder.

A wheel carries the checkout's `config/` and `shared/` inside the package, as `_config` and
`_shared`; in a checkout (an editable install too) they stand beside the package.
"""

from __future__ import annotations

import sys
from importlib.resources import files

from station.errors import BadInput

if sys.version_info >= (3, 11):
    from importlib.resources.abc import Traversable
else:
    from importlib.abc import Traversable

__all__ = ["Traversable", "find", "names", "resource"]


def resource(path: str, package: Traversable | None = None) -> Traversable:
    """Return a shipped file or folder.

    Args:
        path: From the checkout's root, with forward slashes, such as "config/plans/demo.toml" or
            "shared/norms.csv".
        package: The package's folder; None: the `station` package that is running.

    Raises:
        BadInput: There is no such thing in this installation.
    """
    found = find(path, package)
    if found is None:
        raise BadInput(f"{path}: not shipped with this installation; install the station anew")
    return found


def find(path: str, package: Traversable | None = None) -> Traversable | None:
    """Return a shipped file or folder as `resource` does, or None where there is none."""
    inside = files("station") if package is None else package
    first, *rest = path.split("/")
    shipped = _step(inside / f"_{first}", rest)
    if shipped is not None:
        return shipped
    # Only a real folder has a parent: a zipped package carries its files inside.
    parent = getattr(inside, "parent", None)
    return None if parent is None else _step(parent / first, rest)


def _step(root: Traversable, rest: list[str]) -> Traversable | None:
    here = root
    for part in rest:
        here = here / part
    return here if here.is_file() or here.is_dir() else None


def names(folder: str, suffix: str = ".toml", package: Traversable | None = None) -> list[str]:
    """Return the names, without `suffix`, of a shipped folder's files, sorted; none: empty."""
    found = find(folder, package)
    if found is None or not found.is_dir():
        return []
    return sorted(
        entry.name[: -len(suffix)]
        for entry in found.iterdir()
        if entry.is_file() and entry.name.endswith(suffix)
    )
