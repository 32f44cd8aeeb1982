"""steps.csv, session.json and truth.csv: the formats that are relied on from outside."""

from __future__ import annotations

import csv
import json
import os
from collections.abc import Callable
from pathlib import Path

import pytest

from station.errors import DeviceTrouble
from station.keep import SessionFile, StepsWriter, write_truth
from station.keep.numbers import number
from station.values import Step, StepRecord, TrueStep

COLUMNS = (
    "step, drill, side, near, t_contact_s, t_toe_off_s, t_verdict_s, t_cue_s, step_time_s, "
    "step_rate_spm, contact_s, flight_s, duty_factor, step_length_m, ankle_ahead_m, shank_deg, "
    "shank_at_verdict_deg, shank_loading_deg, ankle_ahead_of_hip_m, foot_deg, strike, "
    "heel_down_s, knee_flexion_deg, trunk_lean_deg, body_lean_deg, trailing_thigh_deg, "
    "knee_drive_deg, vertical_oscillation_m, beat_offset_s, landing, cued, confidence"
)
"""As the design page has them."""
ADDED = (
    ", knee_flexion_peak_deg, arm_swing_m, hand_lowest_share, hand_highest_share, "
    "shoulder_rotation_hint, pelvis_rotation_hint, toe_dive"
)
"""Added behind them since."""


def record(**changed: object) -> StepRecord:
    step = Step(
        7, "left", False, 12.345678, 12.4, t_toe_off_s=12.6, step_time_s=0.375, shank_deg=-0.001,
        strike="midfoot", flight_s=float("nan"), confidence=0.8,
    )  # fmt: skip
    given = {
        "step": step, "drill": 'Easy, "slow"', "landing": "ahead", "cued": True,
        "t_cue_s": 12.5, "beat_offset_s": -0.02,
    }  # fmt: skip
    return StepRecord(**{**given, **changed})  # type: ignore[arg-type]


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_columns_in_the_order_of_the_design(tmp_path: Path) -> None:
    with StepsWriter(tmp_path / "steps.csv"):
        pass
    assert (tmp_path / "steps.csv").read_text(encoding="utf-8") == (COLUMNS + ADDED).replace(
        " ", ""
    ) + "\n"


def test_a_row_says_what_is_known_and_leaves_the_rest_empty(tmp_path: Path) -> None:
    with StepsWriter(tmp_path / "steps.csv") as writer:
        writer.write(record())
    (row,) = rows(tmp_path / "steps.csv")
    known = {
        "step": "7", "drill": 'Easy, "slow"', "side": "left", "near": "false",
        "t_contact_s": "12.3457", "t_toe_off_s": "12.6000", "t_verdict_s": "12.4000",
        "t_cue_s": "12.5000", "step_time_s": "0.3750", "step_rate_spm": "160.00",
        "shank_deg": "0.00", "strike": "midfoot", "beat_offset_s": "-0.0200", "landing": "ahead",
        "cued": "true", "confidence": "0.800",
    }  # fmt: skip
    assert {key: text for key, text in row.items() if text} == known


def test_a_flag_is_true_false_or_not_known(tmp_path: Path) -> None:
    told = (True, False, None)
    with StepsWriter(tmp_path / "steps.csv") as writer:
        for number_, flag in enumerate(told):
            step = Step(number_, "left", True, 1.0, 1.1, toe_dive=flag)
            writer.write(record(step=step))
    assert [row["toe_dive"] for row in rows(tmp_path / "steps.csv")] == ["true", "false", ""]


def test_a_step_that_was_not_judged(tmp_path: Path) -> None:
    with StepsWriter(tmp_path / "steps.csv") as writer:
        writer.write(record(landing=None, cued=False, t_cue_s=None, beat_offset_s=None))
    (row,) = rows(tmp_path / "steps.csv")
    assert (row["landing"], row["cued"], row["t_cue_s"], row["beat_offset_s"]) == (
        "", "false", "", "",
    )  # fmt: skip


def test_each_row_is_on_the_disk_before_the_writer_is_closed(tmp_path: Path) -> None:
    with StepsWriter(tmp_path / "steps.csv") as writer:
        for count in (1, 2, 3):
            writer.write(record())
            assert len(rows(tmp_path / "steps.csv")) == count == writer.rows


def test_a_file_that_is_there_is_not_touched(tmp_path: Path) -> None:
    (tmp_path / "steps.csv").write_text("mine")
    with pytest.raises(DeviceTrouble, match=r"steps\.csv: cannot be written"):
        StepsWriter(tmp_path / "steps.csv")
    assert (tmp_path / "steps.csv").read_text() == "mine"


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="no full device to write to here")
def test_rows_wait_while_the_disk_is_full_and_are_all_there_afterwards(tmp_path: Path) -> None:
    with StepsWriter(tmp_path / "steps.csv") as writer:
        writer.write(record())
        assert writer.notice is None
        back = fill_the_disk(writer)
        writer.write(record(drill="full"))
        writer.write(record(drill="full"))
        assert "No space left" in (writer.notice or "")
        back()
        writer.write(record(drill="again"))
        assert writer.notice is None
        drills = [row["drill"] for row in rows(tmp_path / "steps.csv")]
    assert drills == ['Easy, "slow"', "full", "full", "again"]


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="no full device to write to here")
def test_a_disk_that_stays_full_is_told_at_the_end(tmp_path: Path) -> None:
    writer = StepsWriter(tmp_path / "steps.csv")
    fill_the_disk(writer)
    writer.write(record())
    with pytest.raises(DeviceTrouble, match="No space left.*; 1 rows are not in it"):
        writer.close()
    writer.close()


def fill_the_disk(writer: StepsWriter) -> Callable[[], None]:
    """Let the writer's file be a full device; return what undoes it."""
    assert writer._file is not None
    real, full = os.dup(writer._file), os.open("/dev/full", os.O_WRONLY)
    os.dup2(full, writer._file)
    os.close(full)

    def back() -> None:
        os.dup2(real, writer._file)
        os.close(real)

    return back


@pytest.mark.parametrize(
    ("value", "text"),
    [(None, ""), (float("nan"), ""), (float("-inf"), ""), (-0.0004, "0.00"), (-1.005, "-1.00"),
     (0.0, "0.00"), (12.3456, "12.35")],
)  # fmt: skip
def test_numbers(value: float | None, text: str) -> None:
    assert number(value, 2) == text


def test_truth(tmp_path: Path) -> None:
    steps = [TrueStep(0.25, 0.5, "left", 0.08, 10.25), TrueStep(0.6, 0.9, "right", -0.01, -1.5)]
    assert write_truth(tmp_path / "truth.csv", steps) == 2
    assert (tmp_path / "truth.csv").read_text(encoding="utf-8").splitlines() == [
        "t_contact_s,t_toe_off_s,side,ankle_ahead_m,shank_deg",
        "0.25000,0.50000,left,0.08000,10.250",
        "0.60000,0.90000,right,-0.01000,-1.500",
    ]


def test_the_session_file_is_replaced_whole(tmp_path: Path) -> None:
    file = SessionFile(tmp_path / "session.json")
    file.write({"ended": "running", "share": float("nan"), "drills": ({"name": "Läufe"},)})
    first = json.loads((tmp_path / "session.json").read_text(encoding="utf-8"))
    assert first == {"ended": "running", "share": None, "drills": [{"name": "Läufe"}]}
    file.write({"ended": "plan done"})
    assert json.loads((tmp_path / "session.json").read_text()) == {"ended": "plan done"}
    assert [p.name for p in tmp_path.iterdir()] == ["session.json"]  # nothing left beside it


def test_a_write_that_fails_leaves_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = SessionFile(tmp_path / "session.json")
    file.write({"ended": "running"})

    def full(descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(DeviceTrouble, match="No space left"):
        file.write({"ended": "plan done"})
    assert json.loads((tmp_path / "session.json").read_text()) == {"ended": "running"}
    assert [p.name for p in tmp_path.iterdir()] == ["session.json"]
