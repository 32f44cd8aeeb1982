"""Writes `steps.csv`: one row per step, on the disk as soon as it is known."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path
from types import TracebackType

from station.errors import DeviceTrouble
from station.keep.numbers import number, truth_value
from station.values import StepRecord

_TIME = 4  # decimals: 0.1 ms
_METRE = 4
_DEGREE = 2
_SHARE = 4


def _of(name: str, decimals: int) -> Callable[[StepRecord], str]:
    return lambda record: number(getattr(record.step, name), decimals)


_CELLS: dict[str, Callable[[StepRecord], str]] = {
    "step": lambda r: str(r.step.number),
    "drill": lambda r: r.drill,
    "side": lambda r: r.step.side,
    "near": lambda r: truth_value(r.step.near),
    "t_contact_s": _of("t_contact_s", _TIME),
    "t_toe_off_s": _of("t_toe_off_s", _TIME),
    "t_verdict_s": _of("t_verdict_s", _TIME),
    "t_cue_s": lambda r: number(r.t_cue_s, _TIME),
    "step_time_s": _of("step_time_s", _TIME),
    "step_rate_spm": _of("step_rate_spm", 2),
    "contact_s": _of("contact_s", _TIME),
    "flight_s": _of("flight_s", _TIME),
    "duty_factor": _of("duty_factor", _SHARE),
    "step_length_m": _of("step_length_m", _METRE),
    "ankle_ahead_m": _of("ankle_ahead_m", _METRE),
    "shank_deg": _of("shank_deg", _DEGREE),
    "shank_at_verdict_deg": _of("shank_at_verdict_deg", _DEGREE),
    "shank_loading_deg": _of("shank_loading_deg", _DEGREE),
    "ankle_ahead_of_hip_m": _of("ankle_ahead_of_hip_m", _METRE),
    "foot_deg": _of("foot_deg", _DEGREE),
    "strike": lambda r: r.step.strike,
    "heel_down_s": _of("heel_down_s", _TIME),
    "knee_flexion_deg": _of("knee_flexion_deg", _DEGREE),
    "trunk_lean_deg": _of("trunk_lean_deg", _DEGREE),
    "body_lean_deg": _of("body_lean_deg", _DEGREE),
    "trailing_thigh_deg": _of("trailing_thigh_deg", _DEGREE),
    "knee_drive_deg": _of("knee_drive_deg", _DEGREE),
    "vertical_oscillation_m": _of("vertical_oscillation_m", _METRE),
    "beat_offset_s": lambda r: number(r.beat_offset_s, _TIME),
    "landing": lambda r: r.landing or "",
    "cued": lambda r: truth_value(r.cued),
    "confidence": _of("confidence", 3),
    "knee_flexion_peak_deg": _of("knee_flexion_peak_deg", _DEGREE),
    "arm_swing_m": _of("arm_swing_m", _METRE),
    "hand_lowest_share": _of("hand_lowest_share", 3),
    "hand_highest_share": _of("hand_highest_share", 3),
    "shoulder_rotation_hint": _of("shoulder_rotation_hint", 3),
    "pelvis_rotation_hint": _of("pelvis_rotation_hint", 3),
    "toe_dive": lambda r: "" if r.step.toe_dive is None else truth_value(r.step.toe_dive),
    "withheld": lambda r: truth_value(r.withheld),
}

STEP_COLUMNS: tuple[str, ...] = tuple(_CELLS)
"""The columns of `steps.csv`, in order; relied on from outside: new ones go to the end."""


class StepsWriter:
    """Appends one row per step and hands each to the system at once. Used by one thread."""

    def __init__(self, path: Path) -> None:
        """Create the file and write its header.

        Raises:
            DeviceTrouble: The disk does not take it.
        """
        self.path = path
        self.rows = 0
        """Rows written so far, without the header."""
        try:
            self._file = path.open("x", encoding="utf-8", newline="")
        except OSError as fault:
            raise _trouble(path, fault) from fault
        self._table = csv.writer(self._file, lineterminator="\n")
        self._put(STEP_COLUMNS)

    def write(self, record: StepRecord) -> None:
        """Append one row; it outlives this process from here on.

        Raises:
            DeviceTrouble: The disk is full or gone.
        """
        self._put([cell(record) for cell in _CELLS.values()])
        self.rows += 1

    def _put(self, row: list[str] | tuple[str, ...]) -> None:
        try:
            self._table.writerow(row)
            self._file.flush()  # some three rows a second: cheap, and no row waits in a buffer
        except OSError as fault:
            raise _trouble(self.path, fault) from fault

    def close(self) -> None:
        """Close the file; safe to repeat."""
        try:
            self._file.close()
        except OSError as fault:
            raise _trouble(self.path, fault) from fault

    def __enter__(self) -> StepsWriter:
        """Return itself."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        value: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close the file."""
        self.close()


def _trouble(path: Path, fault: OSError) -> DeviceTrouble:
    return DeviceTrouble(
        f"{path}: cannot be written ({fault.strerror or fault}); rows written before are kept. "
        "Free some space or name another folder with --out"
    )
