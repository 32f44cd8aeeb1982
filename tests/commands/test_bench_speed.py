"""What the bench of speed makes of its runs; the runs themselves are timings, and not here."""

from __future__ import annotations

import json
from array import array
from dataclasses import replace
from pathlib import Path

import pytest

from station.commands import bench
from station.commands.bench_quiet import OthersWatch
from station.commands.bench_speed import Pair, Speed, speed_lines, spread_ms
from station.commands.main import main
from station.live.stages import StageTimes

LIVE = {
    "captured": 600,
    "dropped": 6,
    "dropped_share": 0.01,
    "worked_fps": 59.4,
    "latency_ms": {"contact_to_verdict": {"median": 70.0, "p95": 90.0, "count": 28},
                   "contact_to_cue": None},
}  # fmt: skip


def speed(*loop_fps: float) -> Speed:
    times = StageTimes()
    times.taken_s["pose"] = array("d", [0.010, 0.012, 0.014])
    pairs = tuple(Pair(70.0, 80.0, 100.0, fps) for fps in loop_fps)
    return Speed(pairs, times, (24.0, 18.0, 34.0), 480.0, LIVE)


@pytest.mark.parametrize(("middle", "holds"), [(59.4, False), (59.5, True)])
def test_the_median_pair_is_held_against_the_goal(middle: float, holds: bool) -> None:
    told = speed(middle, 10.0, 69.0).as_dict()
    assert told["ratio"] == pytest.approx(middle / 70.0, abs=1e-4)
    assert told["holds"] is holds
    assert told["ratio_asked"] == 0.85
    assert told["own_ratio"] == pytest.approx(middle / 100.0, abs=1e-4)
    assert told["cpu_ms_per_frame"] == {"bare": 24.0, "alone": 18.0, "loop": 34.0}
    assert [pair["ratio"] for pair in told["pairs"]][1] == pytest.approx(1.0 / 7.0, abs=1e-4)
    assert told["stages_ms"]["pose"] == {"median": 12.0, "p95": 13.8}
    json.dumps(told, allow_nan=False)


def test_figures_of_a_busy_machine_are_called_none() -> None:
    busy = replace(speed(66.0), others_share=0.31)
    assert busy.as_dict()["holds"] is None
    assert "31 % of the processor" in next(iter(speed_lines(busy)))
    assert replace(speed(66.0), others_share=0.09).as_dict()["holds"] is True


def test_others_are_known_by_the_systems_account(tmp_path: Path) -> None:
    """cpu user nice system idle iowait irq softirq steal, in ticks; proc_stat(5)."""
    stat = tmp_path / "stat"
    stat.write_text("cpu 100 5 20 9000 50 0 0 0 0 0\ncpu0 1 2 3\n", encoding="ascii")
    others = OthersWatch(stat, cores=2)
    assert others.share() == 0.0
    ticks = 100 + 10**9  # far more than this process can have had
    stat.write_text(f"cpu {ticks} 5 20 9000 50 0 0 0 0 0\n", encoding="ascii")
    assert others.share() == 1.0
    stat.write_text("nothing known\n", encoding="ascii")
    assert others.share() is None
    assert OthersWatch(tmp_path / "none").share() is None


def test_stages_are_timed_each_time_and_a_failing_one_is_not() -> None:
    times = StageTimes()
    for _ in range(3):
        with times.time("paint"):
            pass
    with pytest.raises(ValueError, match="no"), times.time("paint"):
        raise ValueError("no")
    assert len(times.taken_s["paint"]) == 3
    assert spread_ms([0.001, 0.002, 0.003])["median"] == 2.0


def test_a_person_is_told_and_what_is_not_known_is_left_out() -> None:
    lines = list(speed_lines(speed(60.0)))
    assert any("0.86 of the pose model's rate" in line for line in lines)
    assert any("alone it would find 100 poses a second" in line for line in lines)
    assert any("the whole loop leaves 0.60" in line for line in lines)
    assert not any("other programs" in line for line in lines)
    assert any("contact to verdict: 70 ms" in line for line in lines)
    assert not any("cue" in line for line in lines)


def test_the_command_prints_one_json_line_of_speed_alone(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[int] = []

    def measured(pairs: int, tell: object) -> Speed:
        asked.append(pairs)
        return speed(66.0)

    monkeypatch.setattr(bench, "measure_speed", measured)
    assert main(["bench", "--only", "speed", "--pairs", "7"]) == 0
    told = json.loads(capsys.readouterr().out.splitlines()[-1])
    assert asked == [7]
    assert told["bench"] == "speed"
    assert told["speed"]["holds"] is True
    assert "cells" not in told


@pytest.mark.parametrize("pairs", ["0", "many", "101"])
def test_a_bad_number_of_pairs_is_told(pairs: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["bench", "--pairs", pairs]) == 2
    assert "a whole number from 1 to 100" in capsys.readouterr().err
