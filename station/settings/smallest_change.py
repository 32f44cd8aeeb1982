"""Reads the shipped table of smallest detectable changes."""

from __future__ import annotations

import csv
import io
import math
from dataclasses import dataclass

from station.errors import BadInput
from station.settings.resources import Traversable, resource

TABLE = "shared/smallest-change.csv"


@dataclass(frozen=True, slots=True)
class SmallestChange:
    """From what size on a change of one measure may be told."""

    measure: str
    """The attribute of a step."""
    size: float
    """In the unit that the measure's name carries."""
    kind: str
    """What the source gives: a smallest detectable change, an error of the method, ..."""
    source: str


def smallest_changes(table: Traversable | None = None) -> tuple[SmallestChange, ...]:
    """Return the table's rows.

    Args:
        table: The file; None: the shipped one.

    Raises:
        BadInput: A row without a measure, a size over 0 or a source.
    """
    file = resource(TABLE) if table is None else table
    rows = csv.DictReader(io.StringIO(file.read_text(encoding="utf-8")))
    found = []
    for number, row in enumerate(rows, start=2):
        try:
            size = float(row["smallest_change"])
        except (KeyError, TypeError, ValueError):
            size = math.nan
        if not (row.get("measure") and row.get("source") and size > 0.0):
            raise BadInput(
                f"{file.name}, line {number}: each row has a measure, a smallest_change over 0 "
                "and a source"
            )
        found.append(SmallestChange(row["measure"], size, row.get("kind") or "", row["source"]))
    return tuple(found)


def smallest_sizes() -> dict[str, float]:
    """Return the shipped table as measure and size."""
    return {row.measure: row.size for row in smallest_changes()}
