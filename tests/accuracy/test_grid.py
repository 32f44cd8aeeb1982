"""The ends of the grid, 10 s each, held against the project's goals.

The goals are never loosened. A bound that a cell comes to miss is to be a strict expected failure
with its figure.
"""

from __future__ import annotations

import pytest

from station.bench.cells import quick_cells
from station.bench.simulated import run_cell

SECONDS = 10.0
CELLS = {cell.name: cell for cell in quick_cells()}


@pytest.mark.parametrize("name", CELLS)
def test_the_cell_keeps_the_bounds(name: str) -> None:
    assert [str(miss) for miss in run_cell(CELLS[name], SECONDS).misses] == []
