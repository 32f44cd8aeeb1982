"""Pose traces as files: read one as a source of poses, and write one."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from pathlib import Path
from typing import TextIO

import numpy as np

from station.errors import BadInput, StationError
from station.ports import EndOfStream, SourceInfo
from station.see.trace_columns import ALL_COLUMNS, Layout, parse_row, read_header
from station.values import Floats, Pose

MOST_MISTAKES = 10
LEAST_PX = 4.0
"""No picture of a runner is so small: such places are in another unit."""
SLOWEST_FPS = 5.0
"""Slower than any camera: such times are in another unit."""
ROW = "%.6f" + ",%.2f,%.2f,%.3f" * 33
Row = tuple[int, "Floats | str"]
"""Line number, and its numbers or what is wrong with it."""


class TraceSource:
    """Give the poses of a `trace.csv`, in order, at the file's own times.

    The file is read twice and never held: once by `start` to check all of it, so that a mistake in
    its last line is told before anything is worked out of it, and once to give the poses.
    """

    def __init__(self, path: str | Path, width: int = 1280, height: int = 720) -> None:
        """Name the file; it is opened by `start`.

        Args:
            path: The file.
            width: Width of the image that its pixels refer to, px: the file does not say.
            height: Height of that image, px.
        """
        self._path = Path(path)
        self._width, self._height = width, height
        self._layout: Layout | None = None
        self._file: TextIO | None = None
        self._rows: Iterator[Row] | None = None
        self._index = 0

    def start(self) -> SourceInfo:
        """Check the whole file, then open it.

        Returns:
            Name, image size, frames per second (by the median interval) and number of poses.

        Raises:
            BadInput: The file is missing, unreadable, empty, not UTF-8, lacks columns or rows, or
                has lines that are not allowed; the first ten are told, each with line, column,
                value and what is allowed.
        """
        times_s: list[float] = []
        mistakes: list[str] = []
        back: list[str] = []
        largest = 0.0
        with self._open() as file:
            self._layout, rows = self._read(file)
            for line, numbers in rows:
                if isinstance(numbers, str):
                    mistakes.append(f"line {line}: {numbers}")
                elif times_s and numbers[0] <= times_s[-1]:
                    back.append(
                        f"line {line}: t_s: {numbers[0]:g}; allowed is more than in the row "
                        f"before ({times_s[-1]:g})"
                    )
                    times_s[-1] = float(numbers[0])  # told once for each time it falls
                else:
                    times_s.append(float(numbers[0]))
                    largest = max(largest, float(np.fmax.reduce(numbers[1:])))
                if len(mistakes) > MOST_MISTAKES:
                    mistakes[-1] = "and perhaps more after these"
                    break
        if back:
            others = len(back) - 1
            mistakes.insert(0, back[0] + (f"; and {others} more such lines" if others else ""))
        if mistakes:
            raise BadInput(f"{self._path} cannot be used:", mistakes)
        if not times_s:
            raise BadInput(f"{self._path} has a header but no rows; each pose is one row")
        fps = 60.0
        if len(times_s) > 1:  # rounded: the file's times are
            fps = round(1.0 / float(np.median(np.diff(times_s))), 2)
        if fps < SLOWEST_FPS:
            raise BadInput(
                f"{self._path}: column t_s rises by {1.0 / fps:g} from row to row; allowed are "
                f"seconds, {SLOWEST_FPS:g} rows a second or more (are these milliseconds?)"
            )
        if 0.0 < largest < LEAST_PX:
            raise BadInput(
                f"{self._path}: no landmark lies further than {largest:g} from the corner of the "
                "image; allowed are pixels (are these shares of the image's width and height?)"
            )
        self._file = self._open()
        _, self._rows = self._read(self._file)
        return SourceInfo(str(self._path), self._width, self._height, fps, False, len(times_s))

    def receive(self) -> Pose:
        """Return the next pose; its index counts the rows, a landmark without both x and y is NaN.

        Raises:
            EndOfStream: There are no more rows.
            BadInput: The file was changed since it was checked.
        """
        if self._rows is None or self._layout is None:
            raise EndOfStream() if self._index else StationError("a trace was read before start")
        found = next(self._rows, None)
        if found is None:
            self.stop()
            raise EndOfStream()
        line, numbers = found
        if isinstance(numbers, str):
            raise BadInput(f"{self._path} was changed while it was read; line {line}: {numbers}")
        table = numbers[self._layout.order]
        xy_px = table[:, :2].copy()
        xy_px[np.isnan(xy_px.sum(axis=1))] = np.nan
        index, self._index = self._index, self._index + 1
        return Pose(float(numbers[0]), index, xy_px, table[:, 2].copy(), self._width, self._height)

    def stop(self) -> None:
        """Close the file; safe to repeat."""
        self._rows = None
        file, self._file = self._file, None
        if file is not None:
            file.close()

    def _open(self) -> TextIO:
        try:
            if self._path.is_dir():
                raise BadInput(f"{self._path} is a folder; allowed is a trace file (CSV)")
            # utf-8-sig: spreadsheet programs put a mark before the first column's name
            return self._path.open(encoding="utf-8-sig", newline="")
        except FileNotFoundError as error:
            raise BadInput(f"there is no file {self._path}; allowed is a trace (CSV)") from error
        except PermissionError as error:
            raise BadInput(f"{self._path} may not be read by this user") from error
        except OSError as error:
            raise BadInput(f"{self._path} cannot be read: {error.strerror or error}") from error

    def _read(self, file: TextIO) -> tuple[Layout, Iterator[Row]]:
        """Read the header and return the layout with an iterator over the rows."""
        lines = self._lines(file)
        first = next(lines, None)
        if first is None:
            raise BadInput(f"{self._path} is empty; allowed is a trace (CSV) with a header")
        layout, mistakes = read_header(first[1])
        if layout is None:
            raise BadInput(f"{self._path} is not a trace that can be used:", mistakes)
        return layout, ((line, parse_row(row, layout)) for line, row in lines)

    def _lines(self, file: TextIO) -> Iterator[tuple[int, list[str]]]:
        """Give the lines that are not blank, each with its number."""
        reader = csv.reader(file)
        try:
            for row in reader:
                if row:
                    yield reader.line_num, row
        except UnicodeDecodeError as error:
            raise BadInput(
                f"{self._path} is not UTF-8 text (after line {reader.line_num}: byte "
                f"0x{error.object[error.start]:02x}); save it as CSV in UTF-8"
            ) from error
        except csv.Error as error:
            raise BadInput(
                f"{self._path}, line {reader.line_num}: {error}; allowed is CSV text in UTF-8"
            ) from error


class TraceWriter:
    """Write poses as a `trace.csv`: points to 0.01 px, times to 1 microsecond, unknown is empty."""

    def __init__(self, path: str | Path) -> None:
        """Create the file (one that is there is replaced) and write its header.

        Raises:
            BadInput: The file cannot be written there.
        """
        self._path = Path(path)
        try:
            self._file: TextIO | None = self._path.open("w", encoding="utf-8", newline="")
        except OSError as error:
            raise BadInput(f"{path} cannot be written: {error.strerror or error}") from error
        self._put(",".join(ALL_COLUMNS))

    def write(self, pose: Pose) -> None:
        """Add one pose; times must rise from call to call, or the file cannot be read back.

        Raises:
            StationError: The writer is closed, or the disk does not take it.
        """
        table = np.column_stack((pose.xy_px, pose.visibility)).ravel().tolist()
        text = ROW % (pose.t_s, *table)
        self._put(text.replace("nan", "") if "nan" in text else text)

    def close(self) -> None:
        """Flush and close; safe to repeat."""
        file, self._file = self._file, None
        if file is not None:
            try:
                file.close()
            except OSError as error:
                raise StationError(f"{self._path} could not be written: {error}") from error

    def _put(self, line: str) -> None:
        if self._file is None:
            raise StationError(f"{self._path} is closed")
        try:
            self._file.write(line + "\n")
        except OSError as error:
            raise StationError(f"{self._path} could not be written: {error}") from error
