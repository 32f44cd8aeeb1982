"""The files of an export: CSV for every program, Parquet with units in its schema."""

from __future__ import annotations

import csv
import json
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Any

from station.keep.numbers import number, truth_value
from station.keep.store.dictionary import Field, Sheet

_GROUP_ROWS = 50_000


class SheetFiles:
    """Writes one table's rows into both files."""

    def __init__(self, folder: Path, sheet: Sheet) -> None:
        """Make the files.

        Args:
            folder: Without files of this name.
            sheet: What the rows hold.
        """
        self.rows = 0
        self.paths = (folder / f"{sheet.name}.csv", folder / f"{sheet.name}.parquet")
        self._fields = sheet.fields
        self._file = self.paths[0].open("x", encoding="utf-8", newline="")
        self._table = csv.writer(self._file, lineterminator="\n")
        self._table.writerow([field.name for field in sheet.fields])
        self._parquet = _Parquet(self.paths[1], sheet.fields)

    def write(self, rows: Sequence[Sequence[Any]]) -> None:
        """Add rows, their values in the order of the fields."""
        self._table.writerows(
            [to_text(field, value) for field, value in zip(self._fields, row, strict=True)]
            for row in rows
        )
        self._parquet.write(rows)
        self.rows += len(rows)

    def __enter__(self) -> SheetFiles:
        """Return itself."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        value: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close both files."""
        self._file.close()
        self._parquet.close()


class _Parquet:
    """Collects rows into groups of a good size."""

    def __init__(self, path: Path, fields: tuple[Field, ...]) -> None:
        import pyarrow as pa  # takes a while to import, and only an export needs it
        import pyarrow.parquet as pq

        kinds = {
            "integer": pa.int64(), "number": pa.float64(), "text": pa.string(),
            "truth": pa.bool_(), "instant": pa.timestamp("us", tz="UTC"), "json": pa.string(),
        }  # fmt: skip
        self._pa = pa
        self._fields = fields
        self._schema = pa.schema(
            [
                pa.field(f.name, kinds[f.kind], metadata={"unit": f.unit, "meaning": f.meaning})
                for f in fields
            ]
        )
        self._file = pq.ParquetWriter(path, self._schema, compression="zstd")
        self._rows: list[Sequence[Any]] = []

    def write(self, rows: Sequence[Sequence[Any]]) -> None:
        self._rows += rows
        if len(self._rows) >= _GROUP_ROWS:
            self._flush()

    def _flush(self) -> None:
        if not self._rows:
            return
        columns = zip(*self._rows, strict=True)
        arrays = [
            self._pa.array(
                [_json(v) for v in values] if field.kind == "json" else values, type=one.type
            )
            for field, one, values in zip(self._fields, self._schema, columns, strict=True)
        ]
        self._file.write_table(self._pa.table(arrays, schema=self._schema))
        self._rows = []

    def close(self) -> None:
        self._flush()
        self._file.close()


def write_dictionary(path: Path, sheets: Sequence[Sheet]) -> None:
    """Write the data dictionary: one row per column of each table."""
    with path.open("x", encoding="utf-8", newline="") as file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow(["table", "column", "kind", "unit", "decimals", "meaning"])
        for sheet in sheets:
            for field in sheet.fields:
                decimals = str(field.decimals) if field.kind == "number" else ""
                table.writerow(
                    [sheet.name, field.name, field.kind, field.unit, decimals, field.meaning]
                )


def to_text(field: Field, value: Any) -> str:
    """Write a value as the tables do; empty: not known."""
    if value is None:
        return ""
    if field.kind == "number":
        return number(value, field.decimals)
    if field.kind == "truth":
        return truth_value(value)
    if field.kind == "instant":
        return value.isoformat(timespec="milliseconds") if isinstance(value, datetime) else ""
    return _json(value) or "" if field.kind == "json" else str(value)


def _json(value: Any) -> str | None:
    return None if value is None else json.dumps(value, ensure_ascii=False, sort_keys=True)
