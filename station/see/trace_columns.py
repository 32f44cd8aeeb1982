"""The columns of `trace.csv` and the check of one row of it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from station.values import LANDMARKS, Floats

TIME = "t_s"
ALL_COLUMNS: tuple[str, ...] = (
    TIME,
    *(f"{name}_{what}" for name in LANDMARKS for what in ("x", "y", "visibility")),
)
"""Every column that the station knows, in the order in which it writes them."""
REQUIRED: tuple[str, ...] = (
    TIME,
    *(
        f"{side}_{part}_{axis}"
        for side in ("left", "right")
        for part in ("knee", "ankle", "heel", "foot_index")
        for axis in ("x", "y")
    ),
)
FARTHEST = 1e6
"""Greatest coordinate in pixels, and greatest time in seconds, that can be meant."""


@dataclass(frozen=True, slots=True)
class Layout:
    """Where a file keeps the known columns."""

    width: int
    """Columns in the file."""
    names: tuple[str, ...]
    """The known columns that it has, `t_s` first."""
    places: tuple[int, ...]
    """Where each of `names` stands in a row."""
    order: NDArray[np.intp]
    """(33, 3) for each landmark the place of its x, y and visibility among `names`; -1 where the
    file has no such column."""
    highest: Floats
    """(names,) the greatest value allowed."""
    lowest: Floats
    """(names,) the least."""


def read_header(header: Sequence[str]) -> tuple[Layout | None, list[str]]:
    """Find the known columns of a header.

    Args:
        header: The names as in the file's first line.

    Returns:
        The layout, or None with what is wrong: missing and doubled columns, all at once.
    """
    names = tuple(name.strip() for name in header)
    place = {name: i for i, name in reversed(list(enumerate(names)))}
    mistakes = []
    missing = [name for name in REQUIRED if name not in place]
    if missing:
        mistakes.append(
            f"line 1: columns missing: {', '.join(missing)}; required are t_s and, of the left "
            "and right side, x and y of knee, ankle, heel and foot_index"
        )
        if len(names) == 1:
            mistakes.append("line 1: no comma in it; columns are separated by commas")
    known = set(ALL_COLUMNS)
    for name in sorted(known & {n for n in names if names.count(n) > 1}):
        mistakes.append(f"line 1: column {name} stands there {names.count(name)} times; allowed: 1")
    if mistakes:
        return None, mistakes
    present = tuple(name for name in ALL_COLUMNS if name in place)
    at = {name: i for i, name in enumerate(present)}
    shares = np.array([name.endswith("_visibility") for name in present])
    layout = Layout(
        width=len(names),
        names=present,
        places=tuple(place[name] for name in present),
        order=np.array([at.get(name, -1) for name in ALL_COLUMNS[1:]]).reshape(-1, 3),
        highest=np.where(shares, 1.0, FARTHEST),
        lowest=np.where(shares, 0.0, -FARTHEST),
    )
    return layout, []


def parse_row(row: Sequence[str], layout: Layout) -> Floats | str:
    """Return a row's known numbers, or what is wrong with the row.

    Args:
        row: The texts of one line. Empty and `nan` mean not known; unknown columns are not read.
        layout: Of the file.

    Returns:
        (names + 1,) numbers in the order of `layout.names`, NaN where not known, then one NaN more
        (which place -1 finds); or the mistake: column, value, what is allowed.
    """
    if len(row) != layout.width:
        return f"{len(row)} values; the header has {layout.width} columns"
    try:
        numbers = np.array([float(row[i]) if row[i] else math.nan for i in layout.places])
    except ValueError:  # looked at one by one only now: this is the way of every good row
        numbers = np.full(len(layout.names), math.nan)
        for k, i in enumerate(layout.places):
            try:
                numbers[k] = float(row[i].strip() or math.nan)
            except ValueError:
                return f"{layout.names[k]}: {row[i][:40]!r}; allowed is a number, or empty"
    bad = (numbers > layout.highest) | (numbers < layout.lowest)
    if bad.any():
        k = int(bad.argmax())
        return (
            f"{layout.names[k]}: {row[layout.places[k]][:40]}; allowed is "
            f"{layout.lowest[k]:.0f} to {layout.highest[k]:.0f}, or empty"
        )
    if math.isnan(numbers[0]):
        return f"{TIME}: empty; every row needs its time, in seconds"
    return np.append(numbers, math.nan)
