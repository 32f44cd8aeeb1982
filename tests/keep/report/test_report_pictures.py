"""What is drawn: places, axes, marks; and what is said beside the pictures."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from report_rows import ON, drill_told, steps_of, write_folder

from station.coach.verdict import LandingLimit
from station.keep.report.facts import SessionFacts
from station.keep.report.findings import SessionFindings, session_findings
from station.keep.report.from_folder import read_folder
from station.keep.report.limits_told import limits_told, ranges
from station.keep.report.say import Say
from station.keep.report.sections import Section
from station.keep.report.session_sections import rates_section, speeds_section, time_section
from station.keep.report.still import typical_landing
from station.settings.words import read_words
from station.values import StepRecord

SAY = Say(read_words("en"))


@pytest.fixture
def painted(monkeypatch: pytest.MonkeyPatch) -> dict[str, Axes]:
    """Paint pictures without writing them out; return their axes by the picture's name."""
    found: dict[str, Axes] = {}

    def paint(by: Callable[[Axes], None], height_in: float, name: str, room: object) -> str:
        found[name] = Figure().add_subplot()
        by(found[name])
        return "<svg></svg>"

    monkeypatch.setattr("station.keep.report.chart.draw", paint)
    return found


def facts_of(path: Path, rows: list[StepRecord], drills: list[dict[str, Any]]) -> SessionFacts:
    return read_folder(write_folder(path / "s", rows, drills), lambda code: False)


@pytest.fixture
def found(tmp_path: Path) -> SessionFindings:
    """Left alone by the usual limit, then coached by the runner's own, each leg's another.

    Landings were read two degrees beside the angle that they were judged by.
    """
    rows = steps_of("Alone", 60, 5.0) + steps_of("Beat", 60, 5.5, 30.0)
    rows = [
        replace(row, step=replace(row.step, shank_deg=(row.step.shank_deg or 0.0) + by))
        for row, by in zip(rows, itertools.cycle([2.0, 2.0, -2.0, -2.0]), strict=False)
    ]
    usual: dict[str, Any] = {"deg": 8.0, "origin": "fallback"}
    own: dict[str, dict[str, Any]] = {
        side: {"deg": deg, "origin": "baseline"} for side, deg in (("left", 6.0), ("right", 9.5))
    }
    drills = [
        drill_told("Alone", 0.0, 25.0, limits={"left": usual, "right": usual}),
        drill_told("Beat", 30.0, 55.0, channels=ON, target_spm=171.0, limits=own),
    ]
    for i, row in enumerate(rows):
        limit_deg = (usual if row.drill == "Alone" else own[row.step.side])["deg"]
        ahead = (row.step.shank_at_verdict_deg or 0.0) > limit_deg
        rows[i] = replace(row, landing="ahead" if ahead else "within")
    return session_findings(facts_of(tmp_path, rows, drills))


def test_a_landing_stands_where_it_was_judged(
    found: SessionFindings, painted: dict[str, Axes]
) -> None:
    time_section(found, SAY)
    for side in ("left", "right"):
        lines = {line.get_marker(): line for line in painted[f"time-{side}"].get_lines()}
        rows = [row for drill in found.running for row in drill.facts.records]
        for mark, landing in (("o", "within"), ("^", "ahead")):
            mine = [r.step for r in rows if r.step.side == side and r.landing == landing]
            assert list(lines[mark].get_xdata()) == [step.t_contact_s for step in mine]
            assert list(lines[mark].get_ydata()) == [step.shank_at_verdict_deg for step in mine]
    ahead = {line.get_marker(): line for line in painted["time-left"].get_lines()}["^"]
    assert len(ahead.get_ydata())
    assert min(ahead.get_ydata()) > 6.0  # the limit's line


def test_both_legs_share_an_axis(found: SessionFindings, painted: dict[str, Axes]) -> None:
    time_section(found, SAY)
    speeds_section(found, SAY)
    for one, other in (("time-left", "time-right"), ("speed-0-left", "speed-0-right")):
        assert painted[one].get_ylim() == painted[other].get_ylim()
        low, high = painted[one].get_ylim()
        assert low < 4.0
        assert high > 9.5


def test_times_are_told_as_in_the_tables(found: SessionFindings, painted: dict[str, Axes]) -> None:
    time_section(found, SAY)
    axis = painted["time-left"].xaxis
    assert axis.get_major_formatter()(75.0) == "1:15"
    low, high = painted["time-left"].get_xlim()
    assert 3 <= sum(low <= tick <= high for tick in axis.get_majorticklocs()) <= 7


def marks(section: Section) -> list[str]:
    return [mark for mark, _ in section.legend]


def test_a_legend_explains_what_is_drawn_and_nothing_else(found: SessionFindings) -> None:
    assert marks(time_section(found, SAY)) == ["within", "ahead", "middle", "limit", "coached"]
    alone = replace(found, drills=found.drills[:1])
    assert marks(time_section(alone, SAY)) == ["within", "middle", "limit"]
    assert marks(speeds_section(alone, SAY)) == ["ring", "tick"]
    assert marks(rates_section(found, SAY)) == ["dot", "coached"]


def test_it_is_said_whose_limit_holds_where(found: SessionFindings) -> None:
    left, right = time_section(found, SAY).lines
    assert left.startswith("Limit of the left leg: 8.0° (drill 1), the usual one")
    assert "; 6.0° (drill 2), the runner's own" in left
    assert "; 9.5° (drill 2), the runner's own" in right
    drill = found.drills[1]
    moved = replace(drill, facts=replace(drill.facts, limit_by_deg=0.5))
    told = limits_told(replace(found, drills=(moved,)), ["left"], SAY)
    assert told[0].endswith("after the coach moved it.")
    fixed = replace(drill, left=replace(drill.left, limit=LandingLimit(4.0, "drill")))
    told = limits_told(replace(found, drills=(fixed, fixed, drill, fixed)), ["left"], SAY)
    assert "4.0° (drill 1\u20132, 4), set by the plan" in told[0]
    assert ranges([]) == ""


@pytest.mark.parametrize(
    ("more", "title"),
    [
        ({"belt_speed_mps": 3.1, "target_spm": 171.2}, "Same rate, faster belt"),
        ({"belt_speed_mps": 3.1, "target_spm": 176.0}, "The asked step rate"),
        ({"belt_speed_mps": 2.3, "target_spm": 171.0}, "The asked step rate"),
        ({"target_spm": 171.0}, "The asked step rate"),
    ],
)
def test_a_faster_belt_is_headed_so_only_where_there_was_one(
    tmp_path: Path, more: dict[str, Any], title: str
) -> None:
    rows = steps_of("Beat", 60) + steps_of("Then", 60, 6.0, 30.0)
    drills = [
        drill_told("Beat", 0.0, 25.0, channels=ON, target_spm=171.0),
        drill_told("Then", 30.0, 55.0, channels=ON, **more),
    ]
    assert rates_section(session_findings(facts_of(tmp_path, rows, drills)), SAY).title == title


# --- the still ------------------------------------------------------------------------------------


def typical(path: Path, ahead: Callable[[StepRecord], bool]) -> Any:
    rows = steps_of("Beat", 80, 6.0, near=("left",))
    rows = [replace(row, landing="ahead" if ahead(row) else "within") for row in rows]
    told = typical_landing(facts_of(path, rows, [drill_told("Beat", 0.0, 40.0, channels=ON)]))
    assert told is not None
    return told


def test_a_typical_landing_is_shown_while_nothing_is_told_to_the_other_leg(tmp_path: Path) -> None:
    def early(row: StepRecord) -> bool:
        return row.step.side == "right" and row.step.t_contact_s < 20.0

    told = typical(tmp_path / "a", early)
    assert not told.other_told
    assert told.step.step.side == "left"
    assert told.step.step.t_contact_s > 23.0
    assert abs((told.step.step.shank_deg or 0.0) - 5.8) < 0.3
    late = typical(tmp_path / "b", lambda row: row.step.side == "right")
    assert late.other_told
    own = typical(tmp_path / "c", lambda row: row.step.side == "left")
    assert not own.other_told
