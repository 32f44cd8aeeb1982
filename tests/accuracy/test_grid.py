"""The ends of the grid, 10 s each, held against the project's goals.

A bound that a cell misses today is a strict expected failure with its figure. The goals are never
loosened; when a cell comes to keep a bound, its line here is to be deleted.
"""

from __future__ import annotations

from functools import cache

import pytest

from station.bench.cells import quick_cells
from station.bench.result import Result
from station.bench.simulated import run_cell

SECONDS = 10.0
CELLS = {cell.name: cell for cell in quick_cells()}
KNOWN = {
    ("2 m/s", "shank_median_deg"): "shank read 1.02 deg high; 1 allowed",
    (
        "shank -5 deg",
        "shank_median_deg",
    ): "shank read 1.36 deg high (contact 5.5 ms early)",
}
"""What today's measurement misses, by cell and bound."""


@cache
def result_of(name: str) -> Result:
    return run_cell(CELLS[name], SECONDS)


@pytest.mark.parametrize("name", CELLS)
def test_the_cell_keeps_the_bounds(name: str) -> None:
    known = {bound for cell, bound in KNOWN if cell == name}
    assert [str(miss) for miss in result_of(name).misses if miss.bound not in known] == []


@pytest.mark.parametrize(
    ("name", "bound"),
    [
        pytest.param(
            *which, marks=pytest.mark.xfail(strict=True, raises=AssertionError, reason=why)
        )
        for which, why in KNOWN.items()
    ],
)
def test_what_is_missed_today(name: str, bound: str) -> None:
    assert bound not in {miss.bound for miss in result_of(name).misses}
