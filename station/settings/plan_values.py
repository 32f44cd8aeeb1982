"""How single values of a plan are written: belt speeds, step rates, names."""

from __future__ import annotations

import re
from typing import Annotated, Any

from pydantic import AfterValidator, StringConstraints
from pydantic_core import PydanticCustomError

from station.coach.plan import BELT_SPEED_MPS_RANGE, STEP_RATE_SPM_RANGE, StepRate
from station.settings.toml_file import Table
from station.units import Speed, parse_speed

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
_CHANGE = re.compile(r"\s*([+-]\s*\d+(?:\.\d+)?)\s*%\s*")


def told(message: str) -> PydanticCustomError:
    """Build a mistake that names the value itself; braces in it would be read as fields."""
    return PydanticCustomError("told_value", "{told}", {"told": message})


def plausible_speed(value: Any) -> Speed:
    """Read a belt speed; raise the mistake that pydantic is to report."""
    if not isinstance(value, str):
        raise told(f"allowed: {BELT_SPEED_HELP}")
    try:
        speed = parse_speed(value)
    except ValueError:
        raise told(f"not a belt speed; allowed: {BELT_SPEED_HELP}") from None
    low, high = BELT_SPEED_MPS_RANGE
    if not low - 1e-9 <= speed.mps <= high + 1e-9:
        raise told(f"no treadmill's speed; allowed: {BELT_SPEED_HELP}")
    return speed


class BeltSpeed(Table):
    """A belt speed as written and as read."""

    text: str
    mps: float


def as_belt_speed(value: Any) -> BeltSpeed:
    """Read a belt speed and keep how it was written; raise the mistake to report."""
    speed = plausible_speed(value)
    return BeltSpeed(text=" ".join(value.split()), mps=speed.mps)


def as_step_rate(value: Any) -> StepRate:
    """Read a step rate, as a number or a change; raise the mistake to report."""
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        if not _LOW_SPM <= value <= _HIGH_SPM:
            raise told(f"allowed: {STEP_RATE_HELP}")
        return StepRate(spm=float(value))
    if isinstance(value, str) and value.strip() == "own":
        return StepRate(change_percent=0.0, own=True)
    match = _CHANGE.fullmatch(value) if isinstance(value, str) else None
    if match is None:
        raise told(f"allowed: {STEP_RATE_HELP}")
    change = float(match[1].replace(" ", ""))
    if abs(change) > MOST_CHANGE_PERCENT:
        raise told(f"allowed: {STEP_RATE_HELP}")
    return StepRate(change_percent=change)


NAME_HELP = "a name of 1 to 80 characters"


def _not_blank(text: str) -> str:
    if not text:
        raise told(f"allowed: {NAME_HELP}")
    return text


Name = Annotated[
    str, StringConstraints(strip_whitespace=True, max_length=80), AfterValidator(_not_blank)
]
