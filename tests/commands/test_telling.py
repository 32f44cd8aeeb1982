"""What a command tells while it works and when it is done."""

from __future__ import annotations

import io
import sys
from typing import Any

import pytest

from station.coach.plan import Drill
from station.coach.verdict import LandingLimit, LandingLimits
from station.commands.telling import (
    OutConsole,
    ProgressLine,
    closing_table,
    fallback_notice,
)
from station.live.record import DrillRun
from station.values import Step, StepRecord

LIMIT = LandingLimit(8.0, "fallback")


def test_plain_lines_every_tenth_where_there_is_no_terminal(
    capsys: pytest.CaptureFixture[str],
) -> None:
    with ProgressLine("clip", 10.0) as line:
        for frame in range(101):
            line.tell(frame / 10.0, frame // 4)
    told = capsys.readouterr().err.splitlines()
    assert len(told) == 10
    assert told[0] == "clip: 10 %, 2 steps"
    assert told[-1] == "clip: 100 %, 25 steps"


def test_a_camera_tells_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    with ProgressLine("camera", None) as line:
        line.tell(5.0, 3)
    assert capsys.readouterr() == ("", "")


def test_a_bar_on_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    monkeypatch.setattr(sys, "stderr", Terminal())
    monkeypatch.setenv("TERM", "xterm")
    with ProgressLine("clip", 10.0) as line:
        line.tell(5.0, 12)
        shown = sys.stderr.getvalue()  # type: ignore[attr-defined]
    assert "50 %" in shown
    assert "12 steps" in shown


def run_of(*landings: str | None) -> DrillRun:
    run = DrillRun(1, Drill("Easy [slow]", seconds=10.0), 0.0, LandingLimits(LIMIT, LIMIT))
    for number, verdict in enumerate(landings):
        step = Step(number, "left" if number % 2 else "right", True, 0.4 * number, 0.4 * number,
                    step_time_s=0.4)  # fmt: skip
        run.records.append(StepRecord(step, "Easy", verdict, False, None, None))  # type: ignore[arg-type]
    return run


def test_the_closing_table(capsys: pytest.CaptureFixture[str]) -> None:
    OutConsole().print(closing_table([run_of("within", "ahead", "within", None), run_of()]))
    said = [line for line in capsys.readouterr().out.splitlines() if "Easy" in line]
    assert [cell.strip() for cell in said[0].split("│")[1:-1]] == [
        "Easy [slow]", "4", "150", "8.0 usual", "0 % of 1", "100 % of 2", "1", "-",
    ]  # fmt: skip
    assert [cell.strip() for cell in said[1].split("│")[1:-1]] == [
        "Easy [slow]", "0", "-", "8.0 usual", "-", "-", "0", "-",
    ]  # fmt: skip


def test_the_closing_table_says_by_which_limit() -> None:
    def told(**drill: Any) -> str:
        left, right = LandingLimit(9.04, "baseline"), LandingLimit(7.5, "baseline")
        run = DrillRun(1, Drill("d", seconds=5.0, **drill), 0.0, LandingLimits(left, right))
        return str(next(iter(closing_table([run]).columns[3].cells)))

    assert told() == "9.0 / 7.5 own"
    assert told(kind="rest") == told(kind="hop", feedback="off") == "-"
    assert told(kind="hop", feedback="off", landing_limit_deg=5.0) != "-"  # asked for
    assert told(kind="hop") != "-"


def test_a_limit_that_is_nobodys_own_is_told() -> None:
    (told,) = fallback_notice([run_of("within"), run_of("ahead")])
    assert "8 deg" in told
    own = LandingLimit(5.0, "baseline")
    run = DrillRun(1, Drill("d", seconds=5.0), 0.0, LandingLimits(own, own))
    assert fallback_notice([run]) == ()
