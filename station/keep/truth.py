"""Writes `truth.csv`: what the simulated runner really did."""

from __future__ import annotations

import csv
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from station.keep.numbers import number

if TYPE_CHECKING:
    from station.values import TrueStep

TRUTH_COLUMNS = ("t_contact_s", "t_toe_off_s", "side", "ankle_ahead_m", "shank_deg")


def write_truth(path: Path, steps: Iterable[TrueStep]) -> int:
    """Write the true steps, in order of time; return how many."""
    count = 0
    with path.open("w", encoding="utf-8", newline="") as file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow(TRUTH_COLUMNS)
        for step in steps:
            table.writerow(
                (
                    number(step.t_contact_s, 5),
                    number(step.t_toe_off_s, 5),
                    step.side,
                    number(step.ankle_ahead_m, 5),
                    number(step.shank_deg, 3),
                )
            )
            count += 1
    return count
