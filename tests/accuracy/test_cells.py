"""The grid: every range to its ends, and the same runners every time."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import pytest

from station.bench.cells import FRAME_RATES, Cell, mixed_cells, quick_cells, single_cells

FACTORS: dict[str, tuple[Callable[[Cell], float], float, float]] = {
    "belt": (lambda c: c.way.belt_mps, 2.0, 5.5),
    "rate": (lambda c: c.way.rate_spm, 150.0, 200.0),
    "foot": (lambda c: c.way.foot_deg, -10.0, 20.0),
    "shank": (lambda c: c.way.shank_deg, -5.0, 15.0),
    "height": (lambda c: c.way.height_m, 1.5, 2.0),
    "incline": (lambda c: c.way.incline_percent, 0.0, 5.0),
    "roll": (lambda c: c.roll_deg, -3.0, 3.0),
}


@pytest.mark.parametrize("factor", FACTORS)
def test_single_cells_reach_both_ends_of_each_range(factor: str) -> None:
    read, low, high = FACTORS[factor]
    values = [read(cell) for cell in single_cells() if not cell.hops]
    assert (min(values), max(values)) == (low, high)


@pytest.mark.parametrize("factor", FACTORS)
def test_mixed_cells_fill_each_range_and_stay_within(factor: str) -> None:
    read, low, high = FACTORS[factor]
    values = sorted(read(cell) for cell in mixed_cells(64))
    assert low <= values[0]
    assert values[-1] <= high
    if factor == "incline":
        assert 24 <= sum(v == high for v in values) <= 40
        return
    spread = high - low
    assert values[0] < low + 0.05 * spread
    assert values[-1] > high - 0.05 * spread
    assert max(b - a for a, b in pairwise(values)) < 0.06 * spread  # evenly


def test_names_are_unique() -> None:
    names = [cell.name for cell in [*single_cells(), *mixed_cells(64)]]
    assert len(set(names)) == len(names)


def test_more_mixed_cells_leave_the_first_as_they_are() -> None:
    many = list(mixed_cells(20))
    for count in (1, 2, 3, 16):
        assert list(mixed_cells(count)) == many[:count]
    assert list(mixed_cells(0)) == []


def test_mixed_cells_have_every_frame_rate_and_facing() -> None:
    cells = list(mixed_cells(16))
    assert {cell.fps for cell in cells} == set(FRAME_RATES)
    assert {cell.faces for cell in cells} == {"left", "right"}


def test_quick_cells_are_single_cells() -> None:
    single = list(single_cells())
    quick = list(quick_cells())
    assert len(quick) == len(set(quick)) >= 10
    assert all(cell in single for cell in quick)
    assert any(cell.learned for cell in quick)
    assert any(cell.hops for cell in quick)
