"""Reads `plan.toml` into a `Plan`."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field, StringConstraints
from pydantic_core import PydanticCustomError

from station.coach.plan import (
    BELT_SPEED_MPS_RANGE,
    STEP_RATE_SPM_RANGE,
    BeatFrom,
    Drill,
    DrillKind,
    Feedback,
    Gate,
    Plan,
    StepRate,
)
from station.errors import BadInput
from station.settings.resources import Traversable
from station.settings.toml_file import Table, is_number, read_table
from station.units import Speed, format_speed, parse_speed
from station.values import Bay, BeatEvery

BELT_SPEED_HELP = (
    '0.5 to 25 km/h (7 m/s) with its unit mph, km/h, m/s, min/mile or min/km, such as "6 mph" '
    'or "10:00 min/mile"'
)
_LOW_SPM, _HIGH_SPM = STEP_RATE_SPM_RANGE
MOST_CHANGE_PERCENT = 30.0
STEP_RATE_HELP = (
    f"{_LOW_SPM:.0f} to {_HIGH_SPM:.0f} steps per minute (both feet counted), or a change from "
    f'the baseline from "-{MOST_CHANGE_PERCENT:.0f} %" to "+{MOST_CHANGE_PERCENT:.0f} %", or '
    '"own" (as measured when the drill begins)'
)
LEAST_RAMP_PERCENT = 0.1
MOST_RAMP_PERCENT = 3.0
"""A tempo shifted by 1 to 3 % is followed without being noticed (Van Dyck 2015)."""
RAMP_HELP = (
    f"0 (changes come at once) or {LEAST_RAMP_PERCENT:g} to {MOST_RAMP_PERCENT:g} percent a step"
)
_CHANGE = re.compile(r"\s*([+-]\s*\d+(?:\.\d+)?)\s*%\s*")


def _told(message: str) -> PydanticCustomError:
    """Build a mistake that names the value itself; braces in it would be read as fields."""
    return PydanticCustomError("told_value", "{told}", {"told": message})


def plausible_speed(value: Any) -> Speed:
    """Read a belt speed; raise the mistake that pydantic is to report."""
    if not isinstance(value, str):
        raise _told(f"allowed: {BELT_SPEED_HELP}")
    try:
        speed = parse_speed(value)
    except ValueError:
        raise _told(f"not a belt speed; allowed: {BELT_SPEED_HELP}") from None
    low, high = BELT_SPEED_MPS_RANGE
    if not low - 1e-9 <= speed.mps <= high + 1e-9:
        raise _told(f"no treadmill's speed; allowed: {BELT_SPEED_HELP}")
    return speed


class BeltSpeed(Table):
    """A belt speed as written and as read."""

    text: str
    mps: float


def _belt_speed(value: Any) -> BeltSpeed:
    speed = plausible_speed(value)
    return BeltSpeed(text=" ".join(value.split()), mps=speed.mps)


def _step_rate(value: Any) -> StepRate:
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        if not _LOW_SPM <= value <= _HIGH_SPM:
            raise _told(f"allowed: {STEP_RATE_HELP}")
        return StepRate(spm=float(value))
    if isinstance(value, str) and value.strip() == "own":
        return StepRate(change_percent=0.0, own=True)
    match = _CHANGE.fullmatch(value) if isinstance(value, str) else None
    if match is None:
        raise _told(f"allowed: {STEP_RATE_HELP}")
    change = float(match[1].replace(" ", ""))
    if abs(change) > MOST_CHANGE_PERCENT:
        raise _told(f"allowed: {STEP_RATE_HELP}")
    return StepRate(change_percent=change)


def _not_blank(text: str) -> str:
    if not text:
        raise _told("allowed: a name of 1 to 80 characters")
    return text


Name = Annotated[
    str, StringConstraints(strip_whitespace=True, max_length=80), AfterValidator(_not_blank)
]
Switch = Literal["on", "off"]
_SWITCH = "on or off"


class GateTable(Table):
    """The mastery gate of a drill."""

    share: float = Field(gt=0.0, le=1.0, description="a share over 0, up to 1 (0.9 is 90 %)")
    seconds: float = Field(ge=5.0, le=3600.0, description="5 to 3600 seconds")


class DrillTable(Table):
    """One `[[drill]]`."""

    name: Name | None = Field(default=None, description="a name of 1 to 80 characters")
    kind: DrillKind = Field(default="run", description="run, hop, lean or rest")
    belt_speed: Annotated[Any, BeforeValidator(_belt_speed)] = Field(
        default=None, description=BELT_SPEED_HELP
    )
    incline_percent: float = Field(default=0.0, ge=-6.0, le=40.0, description="-6 to 40 percent")
    step_rate: Annotated[Any, BeforeValidator(_step_rate)] = Field(
        default=None, description=STEP_RATE_HELP
    )
    seconds: float | None = Field(
        default=None, gt=0.0, le=7200.0, description="over 0, up to 7200 seconds"
    )
    steps: int | None = Field(
        default=None, ge=1, le=20000, description="a whole number of steps from 1 to 20000"
    )
    landing_limit_deg: float | None = Field(
        default=None,
        ge=-10.0,
        le=30.0,
        description="-10 to 30 degrees (positive: ankle ahead of the knee)",
    )
    landing_change_deg: float = Field(
        default=0.0, ge=-10.0, le=10.0, description="-10 to 10 degrees against the baseline"
    )
    feedback: Feedback = Field(
        default="every step", description="every step, fading, summary or off"
    )
    beat: Switch = Field(default="on", description=_SWITCH)
    beat_every: BeatEvery = Field(default="step", description="step or stride")
    beat_from: BeatFrom = Field(
        default="target", description="target or own (the runner's own measured rate)"
    )
    beat_ramp_percent: float = Field(
        default=0.0, ge=0.0, le=MOST_RAMP_PERCENT, description=RAMP_HELP
    )
    guides: Switch = Field(default="on", description=_SWITCH)
    view: Switch = Field(default="on", description=_SWITCH)
    advance: GateTable | None = Field(
        default=None, description="a table such as { share = 0.9, seconds = 120 }"
    )
    attended: bool = Field(default=False, description="true or false")

    @classmethod
    def faults(cls, raw: Mapping[str, Any]) -> list[str]:
        """Check what belongs together."""
        faults = []
        kind, seconds, steps = raw.get("kind", "run"), raw.get("seconds"), raw.get("steps")
        if kind == "run" and "belt_speed" not in raw:
            faults.append(f"belt_speed is missing; allowed: {BELT_SPEED_HELP}")
        if kind == "rest" and "steps" in raw:
            faults.append(f"steps = {steps}; a rest is given in seconds")
        elif "seconds" in raw and "steps" in raw:
            faults.append(f"seconds = {seconds} and steps = {steps}; give one of them")
        if "seconds" not in raw and "steps" not in raw:
            faults.append("seconds or steps is missing; give one of them")
        if "landing_limit_deg" in raw and "landing_change_deg" in raw:
            faults.append(
                "landing_limit_deg and landing_change_deg; give one of them (the change is "
                "against the baseline)"
            )
        faults += _beat_faults(raw)
        gate = raw.get("advance")
        window = gate.get("seconds") if isinstance(gate, Mapping) else None
        if is_number(window) and is_number(seconds) and window > seconds > 0:
            faults.append(
                f"advance.seconds = {window:g} can never be met; allowed: up to the drill's "
                f"{seconds:g} seconds"
            )
        return faults

    def value(self, number: int) -> Drill:
        """Return the frozen drill; `number` counts from 1 and names a drill without a name."""
        speed: BeltSpeed | None = self.belt_speed
        return Drill(
            name=self.name or f"Drill {number}",
            kind=self.kind,
            belt_speed_mps=speed.mps if speed else None,
            belt_speed_text=speed.text if speed else None,
            incline_percent=self.incline_percent,
            step_rate=self.step_rate,
            seconds=self.seconds,
            steps=self.steps,
            landing_limit_deg=self.landing_limit_deg,
            landing_change_deg=self.landing_change_deg,
            feedback=self.feedback,
            beat=self.beat == "on",
            beat_every=self.beat_every,
            beat_from=self.beat_from,
            beat_ramp=self.beat_ramp_percent / 100.0,
            guides=self.guides == "on",
            view=self.view == "on",
            advance=Gate(self.advance.share, self.advance.seconds) if self.advance else None,
            attended=self.attended,
        )


def _beat_faults(raw: Mapping[str, Any]) -> list[str]:
    """Check what belongs together in how the beat is kept."""
    faults = []
    percent = raw.get("beat_ramp_percent")
    if is_number(percent) and 0.0 < percent < LEAST_RAMP_PERCENT:
        faults.append(f"beat_ramp_percent = {percent:g} never arrives; allowed: {RAMP_HELP}")
    if raw.get("beat_from") != "own":
        return faults
    if percent is None or percent == 0:
        faults.append(
            'beat_from = "own" needs beat_ramp_percent, how fast the beat climbs to the target; '
            f"allowed: {LEAST_RAMP_PERCENT:g} to {MOST_RAMP_PERCENT:g} percent a step"
        )
    if "step_rate" not in raw:
        faults.append(
            'beat_from = "own" needs step_rate, where the beat climbs to (for a beat that stays '
            'at the runner\'s own rate: step_rate = "own")'
        )
    return faults


class PlanTable(Table):
    """The whole file."""

    name: Name = Field(description="a name of 1 to 80 characters")
    drill: list[DrillTable] = Field(
        min_length=1, max_length=100, description="1 to 100 [[drill]] tables (double brackets)"
    )


def read_plan(path: Path | Traversable) -> Plan:
    """Read a drill plan.

    Args:
        path: A `plan.toml`, or a shipped one from `station.settings.resources`.

    Returns:
        The plan, every drill with a name.

    Raises:
        BadInput: The file cannot be read, or holds mistakes: all are told at once.
    """
    try:
        table = read_table(path, PlanTable)
    except BadInput as mistakes:
        if _is_bay(path):
            raise BadInput(
                f"{path} looks like a bay profile ([camera], [view] ...), not a drill plan; "
                "give it as --bay, and a plan holds [[drill]] tables"
            ) from mistakes
        raise
    return Plan(table.name, tuple(d.value(n) for n, d in enumerate(table.drill, start=1)))


def _is_bay(path: Path | Traversable) -> bool:
    """Whether a file that is no plan has a bay's tables and no drill."""
    try:
        text = path.read_bytes().decode("utf-8", "replace")
    except (OSError, ValueError):
        return False
    lines = {line.strip() for line in text.splitlines()}
    return "[[drill]]" not in lines and bool({"[camera]", "[view]", "[sound]"} & lines)


def check_plan_against_bay(plan: Plan, bay: Bay) -> None:
    """Refuse a plan that asks for more belt speed than the bay allows.

    Raises:
        BadInput: With one line for each drill beyond the bay's `[limits] belt_speed`.
    """
    limit_mps = bay.belt_speed_limit_mps
    if limit_mps is None:
        return
    lines = []
    for number, drill in enumerate(plan.drills, start=1):
        mps = drill.belt_speed_mps
        if mps is None or mps <= limit_mps + 1e-6:
            continue
        written = drill.belt_speed_text or format_speed(mps, "km/h")
        limit = format_speed(limit_mps, parse_speed(written).unit, 2)
        lines.append(
            f'drill {number} "{drill.name}": belt_speed = "{written}"; allowed in '
            f'"{bay.name}": up to {limit}'
        )
    if lines:
        raise BadInput(
            f'plan "{plan.name}" asks for more belt speed than bay "{bay.name}" allows', lines
        )
