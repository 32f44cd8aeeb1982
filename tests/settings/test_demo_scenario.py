"""The demo's scenario file."""

from __future__ import annotations

from pathlib import Path

import pytest

from station.commands.simulated import demo_scenario, demo_source
from station.errors import BadInput
from station.settings import read_plan
from station.settings.resources import resource
from station.settings.scenario import read_scenario

GOOD = """
clinic = "C"
runner = "X-1"
plan = "demo"
seconds = 5
[gait]
height_m = 1.7
belt_speed = "10 km/h"
step_rate_spm = 160
shank_deg = 9
foot_deg = 5
"""


def scenario(tmp_path: Path, text: str) -> Path:
    file = tmp_path / "scenario.toml"
    file.write_text(text, encoding="utf-8")
    return file


def test_the_shipped_scenario_fits_its_plan() -> None:
    shipped = demo_scenario()
    plan = read_plan(resource(f"config/plans/{shipped.plan}.toml"))
    assert all(drill.belt_speed_mps == pytest.approx(shipped.belt_mps) for drill in plan.drills)
    assert sum(drill.seconds or 0.0 for drill in plan.drills) < shipped.seconds
    assert shipped.seconds * shipped.step_rate_spm / 60.0 >= 200
    demo_source(shipped)


def test_reads_values_and_defaults(tmp_path: Path) -> None:
    read = read_scenario(scenario(tmp_path, GOOD))
    assert read.belt_mps == pytest.approx(10 / 3.6)
    assert (read.width, read.height, read.fps, read.faces) == (1280, 720, 30.0, "right")


def test_all_mistakes_at_once(tmp_path: Path) -> None:
    text = GOOD.replace('"X-1"', '"Jane"').replace("1.7", "3").replace("10 km/h", "10")
    with pytest.raises(BadInput) as told:
        read_scenario(scenario(tmp_path, text))
    assert len(told.value.mistakes) == 3
    for words in ("runner", "height_m", "belt_speed"):
        assert words in str(told.value)
