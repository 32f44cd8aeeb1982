"""Reads `bay.toml` into a `Bay`."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, ClassVar, Literal

from pydantic import BeforeValidator, Field, StringConstraints
from pydantic_core import PydanticCustomError

from station.settings.plan_values import BELT_SPEED_HELP, plausible_speed
from station.settings.resources import Traversable
from station.settings.toml_file import Table, is_number, read_table
from station.values import Bay, BeatFeet, ViewProfile

LEAST_BELT_LINE_PX = 50.0
"""Two points closer than this give no slope: one pixel of a hand's error is already 1 degree."""

LEAST_CUE_GAP_S = 0.5
"""Closer ones, three in a row, would have the rhythm of a medical alarm of medium priority: three
pulses about 0.2 s apart (IEC 60601-1-8, from memory)."""
_LEVEL = "0 (silent) to 1 (full), beside the volume"

Text = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=200)]
_WIDTH = "a whole number of pixels from 160 to 7680"
_HEIGHT = "a whole number of pixels from 120 to 4320"


def _device(value: Any) -> int | str:
    if isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= 63:
        return value
    if isinstance(value, str) and value.strip():
        return value.strip()
    raise PydanticCustomError(
        "told_value", "allowed: a camera's index (0 to 63), its path or its URL"
    )


def _point(value: Any) -> tuple[float, float] | None:
    if not isinstance(value, list) or len(value) != 2:
        return None
    if any(isinstance(v, bool) or not isinstance(v, (int, float)) for v in value):
        return None
    x, y = float(value[0]), float(value[1])
    return (x, y) if math.isfinite(x) and math.isfinite(y) else None


Line = tuple[tuple[float, float], tuple[float, float]]
_LINE_HELP = "two points on the belt in pixels, such as [[192, 640], [1088, 640]]"


def _belt_line(value: Any) -> Line:
    points = [_point(v) for v in value] if isinstance(value, list) else []
    if len(points) != 2 or points[0] is None or points[1] is None:
        raise PydanticCustomError("told_value", "{told}", {"told": f"allowed: {_LINE_HELP}"})
    return points[0], points[1]


def _one_point(value: Any) -> tuple[float, float]:
    point = _point(value)
    if point is None:
        raise PydanticCustomError("told_value", "allowed: one point in pixels, such as [152, 640]")
    return point


class CameraTable(Table):
    """`[camera]`."""

    device: Annotated[Any, BeforeValidator(_device)] = Field(default=0, description="")
    width: int = Field(default=1280, ge=160, le=7680, description=_WIDTH)
    height: int = Field(default=720, ge=120, le=4320, description=_HEIGHT)
    fps: float = Field(default=60.0, ge=10.0, le=500.0, description="10 to 500 frames per second")
    exposure_ms: float | None = Field(
        default=None, ge=0.05, le=100.0, description="0.05 to 100 milliseconds"
    )
    roll_deg: float = Field(
        default=0.0,
        ge=-20.0,
        le=20.0,
        description="-20 to 20 degrees; turn the camera level rather than allow for more",
    )
    picture_late_ms: float = Field(
        default=0.0, ge=-100.0, le=300.0, description="-100 to 300 milliseconds, as measured"
    )


class ViewTable(Table):
    """`[view]`."""

    runner_faces: Literal["left", "right", "auto"] = Field(
        default="auto", description="left, right or auto (in the camera's image)"
    )
    px_per_m: float | None = Field(
        default=None,
        ge=20.0,
        le=5000.0,
        description="20 to 5000 pixels per metre at the runner's plane",
    )
    belt_line: Annotated[Any, BeforeValidator(_belt_line)] = Field(
        default=None, description=_LINE_HELP
    )
    belt_rear: Annotated[Any, BeforeValidator(_one_point)] = Field(
        default=None, description="the belt's rear end, one point in pixels, such as [152, 640]"
    )
    width: int | None = Field(default=None, ge=160, le=7680, description=_WIDTH)
    height: int | None = Field(default=None, ge=120, le=4320, description=_HEIGHT)
    far_leg_error_deg: float | None = Field(
        default=None, ge=0.0, le=30.0, description="0 to 30 degrees, as measured in this bay"
    )

    @classmethod
    def faults(cls, raw: Mapping[str, Any]) -> list[str]:
        """Check what belongs together."""
        faults = []
        given = [key for key in ("px_per_m", "belt_line", "belt_rear") if key in raw]
        missing = [key for key in ("width", "height") if key not in raw]
        if given and missing:
            faults.append(
                f"{' and '.join(missing)} missing; with {' and '.join(given)} give the size in "
                f"pixels of the image that they were taken in"
            )
        elif len(missing) == 1:
            faults.append(f"{missing[0]} missing; give width and height together")
        try:
            line = _belt_line(raw.get("belt_line"))
        except PydanticCustomError:
            return faults  # none, or told with its own key
        size = tuple(v if is_number(v := raw.get(key)) else math.inf for key in ("width", "height"))
        return faults + _line_faults(line, size)


def _line_faults(line: Line, size: tuple[float, ...]) -> list[str]:
    """Check two points against the image's size in pixels (infinite where not known)."""
    faults = []
    for point in line:
        if not all(0.0 <= v <= most for v, most in zip(point, size, strict=True)):
            written = ", ".join(f"{v:g}" for v in point)
            faults.append(
                f"belt_line point [{written}] is outside the image; allowed: x 0 to {size[0]:g}, "
                f"y 0 to {size[1]:g}"
            )
    (x0, y0), (x1, y1) = line
    length_px = math.dist(*line)
    if length_px < LEAST_BELT_LINE_PX:
        faults.append(
            f"belt_line points are {length_px:.0f} px apart; allowed: two different points at "
            f"least {LEAST_BELT_LINE_PX:.0f} px apart"
        )
    elif abs(x0 - x1) < abs(y0 - y1):
        faults.append("belt_line is steeper than 45 degrees; allowed: a line along the belt")
    return faults


class LimitsTable(Table):
    """`[limits]`."""

    belt_speed: Annotated[Any, BeforeValidator(plausible_speed)] = Field(
        default=None, description=BELT_SPEED_HELP
    )
    hops: int = Field(
        default=Bay().hops_limit,
        ge=0,
        le=1000,
        description="a whole number from 0 (no hops here) to 1000 hops of a visit, both feet",
    )


class SoundTable(Table):
    """`[sound]`."""

    other_names: ClassVar[Mapping[str, str]] = {
        key: f"{key} in a drill of the plan"
        for key in ("beat", "beat_every", "beat_from", "beat_ramp_percent", "step_rate")
    }

    speaker: Text | None = Field(default=None, description="part of a sound device's name")
    volume: float = Field(default=0.6, ge=0.0, le=1.0, description="0 to 1")
    beat_level: float = Field(default=1.0, ge=0.0, le=1.0, description=_LEVEL)
    cue_level: float = Field(default=1.0, ge=0.0, le=1.0, description=_LEVEL)
    cue_gap_s: float = Field(
        default=0.6, ge=LEAST_CUE_GAP_S, le=10.0, description=f"{LEAST_CUE_GAP_S:g} to 10 seconds"
    )
    beat_feet: BeatFeet = Field(
        default="alike", description="alike, pitch or pan (pan needs two loudspeakers)"
    )
    latency_ms: float | None = Field(
        default=None, ge=20.0, le=160.0, description="20 to 160 milliseconds"
    )


class ScreenTable(Table):
    """`[screen]`."""

    diagonal_m: float | None = Field(default=None, ge=0.1, le=5.0, description="0.1 to 5 metres")
    viewing_distance_m: float = Field(default=2.5, ge=0.3, le=10.0, description="0.3 to 10 metres")
    language: str = Field(
        default="en",
        pattern=r"^[a-z]{2,3}(-[A-Za-z0-9]{2,8})?$",
        description='a language code such as "en"',
    )
    coach_strip: Literal["on", "off"] = Field(default="off", description="on or off")
    lines: int = Field(default=720, ge=360, le=2160, description="a whole number from 360 to 2160")
    legs: Literal["on", "off"] = Field(default="off", description="on or off")


class CoachPageTable(Table):
    """`[coach_page]`."""

    listen: Literal["on", "off"] = Field(default="off", description="on or off")
    host: Annotated[str, StringConstraints(pattern=r"^[0-9.]{7,15}$")] = Field(
        default=Bay().coach_page_host,
        description='an address of this machine, such as "192.168.1.20", or "0.0.0.0" for all',
    )
    port: int = Field(default=Bay().coach_page_port, ge=1024, le=65535, description="1024 to 65535")


class VisitTable(Table):
    """`[visit]`."""

    staff_code: Annotated[str, StringConstraints(pattern=r"^[0-9]{4,8}$")] | None = Field(
        default=None, description='4 to 8 digits in quotes, such as "2468"'
    )


class RecordsTable(Table):
    """`[records]`."""

    folder: Text | None = Field(default=None, description="a folder's path")
    url: Annotated[str, StringConstraints(pattern=r"^postgresql://\S+$")] | None = Field(
        default=None, description="postgresql://USER@HOST:PORT/DATABASE"
    )
    keep_days: int | None = Field(
        default=None, ge=1, le=36500, description="a whole number of days from 1 to 36500"
    )
    video: Literal["on", "off"] = Field(default="off", description="on or off")


class LogTable(Table):
    """`[log]`."""

    folder: Text | None = Field(default=None, description="a folder's path")
    megabytes: float = Field(default=5.0, ge=0.1, le=1000.0, description="0.1 to 1000 megabytes")
    quiet_s: float = Field(default=60.0, ge=0.0, le=86400.0, description="0 to 86400 seconds")


class BayTable(Table):
    """The whole file."""

    name: Text = Field(default="Bay", description="a name of 1 to 200 characters")
    camera: CameraTable = Field(default=CameraTable(), description="a [camera] table")
    view: ViewTable = Field(default=ViewTable(), description="a [view] table")
    limits: LimitsTable = Field(default=LimitsTable(), description="a [limits] table")
    sound: SoundTable = Field(default=SoundTable(), description="a [sound] table")
    screen: ScreenTable = Field(default=ScreenTable(), description="a [screen] table")
    coach_page: CoachPageTable = Field(default=CoachPageTable(), description="a [coach_page] table")
    visit: VisitTable = Field(default=VisitTable(), description="a [visit] table")
    records: RecordsTable = Field(default=RecordsTable(), description="a [records] table")
    log: LogTable = Field(default=LogTable(), description="a [log] table")


def read_bay(path: Path | Traversable) -> Bay:
    """Read a bay profile.

    Args:
        path: A `bay.toml`, or the shipped one from `station.settings.resources`.

    Returns:
        The bay. Whatever the file leaves out has the default of `Bay`; of the view it is None:
        learned from running.

    Raises:
        BadInput: The file cannot be read, or holds mistakes: all are told at once.
    """
    table = read_table(path, BayTable)
    camera, view, screen = table.camera, table.view, table.screen
    limit = table.limits.belt_speed
    return Bay(
        name=table.name,
        device=camera.device,
        width=camera.width,
        height=camera.height,
        fps=camera.fps,
        exposure_s=None if (ms := camera.exposure_ms) is None else ms / 1000.0,
        view=ViewProfile(
            faces=None if view.runner_faces == "auto" else view.runner_faces,
            px_per_m=view.px_per_m,
            belt_line=view.belt_line,
            width=view.width,
            height=view.height,
            roll_deg=camera.roll_deg,
        ),
        far_leg_error_deg=view.far_leg_error_deg,
        belt_speed_limit_mps=limit.mps if limit else None,
        hops_limit=table.limits.hops,
        speaker=table.sound.speaker,
        volume=table.sound.volume,
        beat_level=table.sound.beat_level,
        cue_level=table.sound.cue_level,
        cue_gap_s=table.sound.cue_gap_s,
        beat_feet=table.sound.beat_feet,
        sound_latency_s=None if (ms := table.sound.latency_ms) is None else ms / 1000.0,
        screen_diagonal_m=screen.diagonal_m,
        viewing_distance_m=screen.viewing_distance_m,
        language=screen.language,
        coach_strip=screen.coach_strip == "on",
        screen_lines=screen.lines,
        show_legs=screen.legs == "on",
        coach_page=table.coach_page.listen == "on",
        coach_page_host=table.coach_page.host,
        coach_page_port=table.coach_page.port,
        staff_code=table.visit.staff_code,
        belt_rear_px=view.belt_rear,
        records_folder=table.records.folder,
        records_url=table.records.url,
        keep_days=table.records.keep_days,
        video=table.records.video == "on",
        log_folder=table.log.folder,
        log_megabytes=table.log.megabytes,
        log_quiet_s=table.log.quiet_s,
        picture_late_s=camera.picture_late_ms / 1000.0,
    )
