"""`station bench` as a user runs it."""

from __future__ import annotations

import json
import pickle
from pathlib import Path

import pytest

from station.bench.cells import quick_cells
from station.bench.simulated import run_cell
from station.bench.work import find_data
from station.commands.main import main
from station.errors import BadInput


def test_a_quick_run_ends_with_one_json_line(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["bench", "--quick", "--cells", "2", "--seconds", "5", "--jobs", "2"]) == 0
    shown = capsys.readouterr()
    *table, last = shown.out.splitlines()
    told = json.loads(last)
    assert [cell["name"] for cell in told["cells"]] == ["2 m/s", "5.5 m/s, 30 fps"]
    assert told["recorded"] == []
    assert told["bench"] == "accuracy"
    assert told["versions"]["numpy"]
    assert told["cores"] >= 1
    assert told["cost_per_plain_loop"] == pytest.approx(
        told["cost_ms"] / told["plain_loop_ms"], rel=0.01
    )
    for cell in told["cells"]:
        assert cell["contacts"] >= 10
        assert cell["contact_ms"]["count"] == cell["contacts"] - cell["missed"]
        assert cell["cost_ms"] > 0.0
        assert isinstance(cell["misses"], list)
        rows = [line.split() for line in table if line.strip().startswith(cell["name"])]
        assert str(cell["contacts"]) in rows[0]  # on one line: nothing wrapped, nothing cut
        assert len(rows[0]) - len(cell["name"].split()) >= 11
    assert "bench: 100 %" in shown.err
    assert told["runs_with_misses"] == sum(bool(cell["misses"]) for cell in told["cells"])
    here = run_cell(next(quick_cells()), 5.0).as_row()  # another process has found the same
    assert here | {"cost_ms": 0.0} == told["cells"][0] | {"cost_ms": 0.0}


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--cells", "0"], "argument --cells: '0'; allowed: a whole number from 1 to 1000"),
        (["--cells", "2.5"], "argument --cells: '2.5'; allowed: a whole number"),
        (["--seconds", "4"], "argument --seconds: '4'; allowed: a number of seconds from 5 to"),
        (["--seconds", "nan"], "argument --seconds: 'nan'; allowed:"),
        (["--jobs", "many"], "argument --jobs: 'many'; allowed: a whole number from 1 to 256"),
        (["--data", "no-such-folder"], "there is no folder no-such-folder; allowed is a folder"),
    ],
)
def test_a_bad_option_is_told_in_one_message(
    options: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["bench", *options]) == 2
    shown = capsys.readouterr()
    assert said in shown.err
    assert "Traceback" not in shown.err
    assert not shown.out


def test_a_folder_without_recorded_data_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "trace.csv").write_text("t_s\n")  # without contacts.csv beside it
    assert main(["bench", "--data", str(tmp_path)]) == 2
    assert "holds no recorded data" in capsys.readouterr().err


def test_wrong_contacts_are_told_with_file_and_line(
    tmp_path: Path, shared_data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with (shared_data / "treadmill_running" / "trace.csv").open(encoding="utf-8") as trace:
        lines = [next(trace) for _ in range(60)]
    (tmp_path / "trace.csv").write_text("".join(lines))
    (tmp_path / "contacts.csv").write_text(
        "t_contact_s,t_toe_off_s,side,ankle_ahead_m,shank_deg\n0.4,0.6,middle,0.04,5.5\n"
    )
    options = ["--quick", "--cells", "1", "--seconds", "5", "--jobs", "1"]
    assert main(["bench", *options, "--data", str(tmp_path)]) == 2
    assert "contacts.csv, line 2: 'middle'; allowed are numbers" in capsys.readouterr().err


def test_a_mistake_comes_back_whole_from_another_process() -> None:
    told = pickle.loads(pickle.dumps(BadInput("a.csv cannot be used:", ["line 2", "line 3"])))
    assert str(told) == "a.csv cannot be used:\n  line 2\n  line 3"
    assert told.mistakes == ("line 2", "line 3")


def test_recorded_data_is_found_in_and_beside(shared_data: Path) -> None:
    found = find_data(shared_data)
    assert found.trial_folder == shared_data / "treadmill_running"
    assert [path.name for path in found.clips] == ["ff_25_60.mp4"]
    assert find_data(shared_data / "treadmill_running").trial_folder == found.trial_folder
    assert find_data(shared_data / "clips").clips == found.clips
