"""Reads the demo's `scenario.toml`: the invented runner and the picture of it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from station.settings.plan_values import BELT_SPEED_HELP, BeltSpeed, plausible_speed
from station.settings.resources import Traversable
from station.settings.toml_file import Table, read_table
from station.values import Facing


@dataclass(frozen=True, slots=True)
class Scenario:
    """What the demo shows. Angles as in the design, to gravity (the foot's to the belt)."""

    clinic: str
    runner: str
    plan: str
    """Name of a shipped plan."""
    seconds: float
    width: int
    height: int
    fps: float
    faces: Facing
    exposure_s: float
    seed: int
    height_m: float
    """Standing height of the runner."""
    belt_mps: float
    step_rate_spm: float
    """The runner's own, without a beat."""
    shank_deg: float
    """At contact, without a cue."""
    foot_deg: float


def _belt_speed(value: Any) -> BeltSpeed:
    return BeltSpeed(text=str(value), mps=plausible_speed(value).mps)


class PictureTable(Table):
    """`[picture]`."""

    width: int = Field(default=1280, ge=320, le=3840, description="320 to 3840 pixels")
    height: int = Field(default=720, ge=240, le=2160, description="240 to 2160 pixels")
    fps: float = Field(default=30.0, ge=10.0, le=240.0, description="10 to 240 a second")
    faces: Literal["left", "right"] = Field(default="right", description='"left" or "right"')
    exposure_s: float = Field(default=0.0, ge=0.0, le=0.1, description="0 to 0.1 seconds")


class GaitTable(Table):
    """`[gait]`."""

    seed: int = Field(default=7, ge=0, le=2**31, description="a whole number from 0")
    height_m: float = Field(ge=1.4, le=2.1, description="1.40 to 2.10 metres")
    belt_speed: Annotated[BeltSpeed, BeforeValidator(_belt_speed)] = Field(
        description=BELT_SPEED_HELP
    )
    step_rate_spm: float = Field(ge=120.0, le=220.0, description="120 to 220 steps per minute")
    shank_deg: float = Field(ge=-8.0, le=18.0, description="-8 to 18 degrees")
    foot_deg: float = Field(ge=-10.0, le=20.0, description="-10 to 20 degrees")


class ScenarioTable(Table):
    """The whole file."""

    clinic: str = Field(min_length=1, max_length=80, description="a name of 1 to 80 characters")
    runner: str = Field(pattern=r"^[A-Z0-9-]{1,16}$", description="a code: A-Z, 0-9 and -")
    plan: str = Field(min_length=1, max_length=80, description="the name of a shipped plan")
    seconds: float = Field(ge=1.0, le=3600.0, description="1 to 3600 seconds")
    picture: PictureTable = Field(default_factory=PictureTable, description="a table")
    gait: GaitTable = Field(description="a table")


def read_scenario(path: Path | Traversable) -> Scenario:
    """Read a scenario.

    Args:
        path: A `scenario.toml`, or the shipped one.

    Raises:
        BadInput: The file cannot be read, or holds mistakes: all are told at once.
    """
    table = read_table(path, ScenarioTable)
    picture, gait = table.picture, table.gait
    return Scenario(
        clinic=table.clinic,
        runner=table.runner,
        plan=table.plan,
        seconds=table.seconds,
        width=picture.width,
        height=picture.height,
        fps=picture.fps,
        faces=picture.faces,
        exposure_s=picture.exposure_s,
        seed=gait.seed,
        height_m=gait.height_m,
        belt_mps=gait.belt_speed.mps,
        step_rate_spm=gait.step_rate_spm,
        shank_deg=gait.shank_deg,
        foot_deg=gait.foot_deg,
    )
