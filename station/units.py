"""Speeds, paces, step rates and inclines, in and out of text.

Everything inside the station is SI (m/s) and steps per minute (spm); text keeps the unit that the
coach wrote. Factors are exact: NIST SP 811, Appendix B.6 (1 ft = 0.3048 m since 1959, hence
1 mile = 5280 ft) and B.8 (1 mph = 0.447 04 m/s).
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Literal

SpeedUnit = Literal["mph", "km/h", "m/s", "min/mile", "min/km"]

MILE_M = 1609.344
"""International mile, metres, exact (NIST SP 811 B.6: 5280 x 0.3048)."""
MPH_MPS = 0.44704
"""One mile per hour in m/s, exact (NIST SP 811 B.8)."""
KMH_MPS = 1000.0 / 3600.0
"""One kilometre per hour in m/s (NIST SP 811 B.8)."""

SPEED_UNITS: tuple[SpeedUnit, ...] = ("mph", "km/h", "m/s", "min/mile", "min/km")
SPEED_HELP = (
    "a number and a unit, one of mph, km/h, m/s (such as '6 mph'), "
    "or a pace min/mile, min/km (such as '10:00 min/mile')"
)
"""What a speed may look like, for error texts and help."""

_SPELLINGS: dict[str, SpeedUnit] = {
    "mph": "mph",
    "mi/h": "mph",
    "km/h": "km/h",
    "kmh": "km/h",
    "kph": "km/h",
    "m/s": "m/s",
    "min/mile": "min/mile",
    "min/mi": "min/mile",
    "min/km": "min/km",
}
_PACE_LENGTH_M: dict[SpeedUnit, float] = {"min/mile": MILE_M, "min/km": 1000.0}
_FACTOR_MPS: dict[SpeedUnit, float] = {"mph": MPH_MPS, "km/h": KMH_MPS, "m/s": 1.0}
_TEXT = re.compile(
    r"\s*(?P<number>[^\s:a-z]+(?::[^\s:a-z]+)?)\s*(?P<unit>[a-z/]+)\s*", re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class Speed:
    """A speed with the unit it was written in."""

    mps: float
    unit: SpeedUnit

    def __str__(self) -> str:
        """Write it in its own unit."""
        return format_speed(self.mps, self.unit)


def parse_speed(text: str, allow_zero: bool = False) -> Speed:
    """Read a speed or a pace.

    Args:
        text: Such as "6 mph", "9.7 km/h", "2.7 m/s", "10:00 min/mile", "10 min/mile",
            "6:12 min/km". Case and spaces do not matter.
        allow_zero: Let a speed of 0 pass (a belt that stands). A pace of 0 never passes.

    Returns:
        The speed in m/s and its unit.

    Raises:
        ValueError: No such number or unit; negative, infinite or NaN; zero where not allowed.
            The text names what is allowed.
    """
    match = _TEXT.fullmatch(text)
    unit = _SPELLINGS.get(match["unit"].lower()) if match else None
    if match is None or unit is None:
        raise ValueError(f"'{text}' is not a speed; allowed: {SPEED_HELP}")
    number = match["number"]
    if unit in _PACE_LENGTH_M:
        seconds = _pace_s(number, text)
        return Speed(_PACE_LENGTH_M[unit] / seconds, unit)
    if ":" in number:
        raise ValueError(f"'{text}' mixes minutes with a speed; allowed: {SPEED_HELP}")
    value = _number(number, text)
    if value == 0.0 and not allow_zero:
        raise ValueError(f"'{text}' must be over 0; allowed: {SPEED_HELP}")
    return Speed(value * _FACTOR_MPS[unit], unit)


def _number(digits: str, text: str) -> float:
    """Read a finite number of at least 0."""
    try:
        value = float(digits)
    except ValueError:
        raise ValueError(f"'{text}' holds no number; allowed: {SPEED_HELP}") from None
    if not math.isfinite(value) or value < 0.0 or math.copysign(1.0, value) < 0.0:
        raise ValueError(f"'{text}' must be a finite number, not negative; allowed: {SPEED_HELP}")
    return value


def _pace_s(digits: str, text: str) -> float:
    """Read minutes, or minutes:seconds, as seconds over 0."""
    minutes_text, colon, seconds_text = digits.partition(":")
    minutes = _number(minutes_text, text)
    seconds = _number(seconds_text, text) if colon else 0.0
    if seconds >= 60.0 or (colon and minutes != int(minutes)):
        raise ValueError(
            f"'{text}' is not minutes:seconds (seconds 0 to 59); allowed: {SPEED_HELP}"
        )
    total = minutes * 60.0 + seconds
    if total == 0.0:
        raise ValueError(f"'{text}': a pace must be over 0; allowed: {SPEED_HELP}")
    return total


def format_speed(mps: float, unit: SpeedUnit, digits: int = 1) -> str:
    """Write a speed in a unit.

    Args:
        mps: Speed in m/s, at least 0.
        unit: The unit to write it in.
        digits: Decimals at most (m/s gets one more); trailing zeros are left out. Paces are
            whole seconds.

    Returns:
        Such as "6 mph", "9.7 km/h", "2.68 m/s", "10:00 min/mile".

    Raises:
        ValueError: `mps` is negative or not finite, or 0 with a pace.
    """
    if not math.isfinite(mps) or mps < 0.0:
        raise ValueError(f"a speed is at least 0 m/s and finite, not {mps}")
    if unit in _PACE_LENGTH_M:
        if mps == 0.0:
            raise ValueError("a belt that stands has no pace: a speed over 0 m/s is needed")
        return f"{format_pace(_PACE_LENGTH_M[unit] / mps)} {unit}"
    places = digits + (unit == "m/s")
    value = f"{mps / _FACTOR_MPS[unit]:.{places}f}"
    return f"{value.rstrip('0').rstrip('.') if places else value} {unit}"


def format_pace(seconds: float) -> str:
    """Write a time as minutes:seconds, rounded to the second, so that 59.6 s carries ("1:00").

    Args:
        seconds: For one mile or kilometre, at least 0 and finite.

    Raises:
        ValueError: Negative or not finite.
    """
    if not math.isfinite(seconds) or seconds < 0.0:
        raise ValueError(f"a pace is at least 0 s and finite, not {seconds}")
    minutes, rest = divmod(math.floor(seconds + 0.5), 60)  # halves up, as a stopwatch reads
    return f"{minutes}:{rest:02d}"


def pace_s_per_mile(mps: float) -> float:
    """Return the seconds for one mile at a speed over 0."""
    return MILE_M / _over_zero(mps, "a speed in m/s")


def pace_s_per_km(mps: float) -> float:
    """Return the seconds for one kilometre at a speed over 0."""
    return 1000.0 / _over_zero(mps, "a speed in m/s")


def step_time_s(rate_spm: float) -> float:
    """Return the seconds of one step at a step rate over 0."""
    return 60.0 / _over_zero(rate_spm, "a step rate in spm")


def stride_hz(rate_spm: float) -> float:
    """Return strides per second; one stride is two steps."""
    return _over_zero(rate_spm, "a step rate in spm") / 120.0


def strides_per_minute(rate_spm: float) -> float:
    """Return strides per minute; one stride is two steps."""
    return _over_zero(rate_spm, "a step rate in spm") / 2.0


def step_length_m(belt_mps: float, rate_spm: float) -> float:
    """Return belt speed times step time, metres."""
    return _over_zero(belt_mps, "a belt speed in m/s") * step_time_s(rate_spm)


def step_length_change(rate_change: float) -> float:
    """Return the share by which steps get longer at a held belt speed, 1/(1 + p) - 1.

    Args:
        rate_change: Share by which the step rate rises, over -1 (0.05: five per cent).

    Raises:
        ValueError: -1 or below, or not finite.
    """
    return 1.0 / _over_zero(1.0 + rate_change, "1 + the change of rate") - 1.0


def incline_deg(percent: float) -> float:
    """Return the slope in degrees of an incline in percent (rise over horizontal run)."""
    return math.degrees(math.atan(percent / 100.0))


def incline_percent(deg: float) -> float:
    """Return the incline in percent of a slope in degrees."""
    return 100.0 * math.tan(math.radians(deg))


def _over_zero(value: float, what: str) -> float:
    if not math.isfinite(value) or value <= 0.0:
        raise ValueError(f"{what} must be over 0 and finite, not {value}")
    return value
