"""The shipped table of smallest detectable changes."""

from __future__ import annotations

from pathlib import Path

import pytest

from station.errors import BadInput
from station.settings.smallest_change import smallest_changes, smallest_sizes


def test_every_row_has_its_source() -> None:
    rows = smallest_changes()
    assert len({row.measure for row in rows}) == len(rows) >= 4
    assert all(len(row.source) > 20 and row.kind for row in rows)


def test_the_landing_s_row() -> None:
    """Tibia 2.2 to 4.8 and knee 2.3 to 3.8 deg: Dingenen 2018, Phys Ther Sport 33:40-47."""
    sizes = smallest_sizes()
    assert 2.2 <= sizes["shank_deg"] <= 4.8
    assert 2.3 <= sizes["knee_flexion_deg"] <= 3.8
    assert sizes["foot_deg"] >= 2.5  # typical error of two-dimensional video


@pytest.mark.parametrize(
    "row",
    ["shank_deg,0,x,Somebody 2000", "shank_deg,much,x,Somebody 2000", "shank_deg,4.8,x,", ",1,x,y"],
)
def test_a_row_without_size_or_source_is_refused(tmp_path: Path, row: str) -> None:
    table = tmp_path / "table.csv"
    table.write_text(f"measure,smallest_change,kind,source\n{row}\n", encoding="utf-8")
    with pytest.raises(BadInput, match=r"table\.csv, line 2: each row has"):
        smallest_changes(table)
