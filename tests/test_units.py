"""Units against exact factors and tables from outside the project."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from station import units

# NIST SP 811 B.6/B.8 fix the factors; the rows follow by arithmetic.
SPEEDS = [
    # text, m/s, km/h, pace per mile, pace per km
    ("6 mph", 2.68224, 9.656064, 600.0, 372.82),
    ("7.5 mph", 3.3528, 12.07008, 480.0, 298.26),
    ("8 mph", 3.57632, None, 450.0, 279.62),
    ("10 mph", 4.4704, 16.09344, 360.0, 223.69),
    ("12 mph", 5.36448, None, 300.0, None),
    ("7 mph", None, None, 514.29, None),
    ("8.5 mph", None, None, 423.53, None),
    ("10 km/h", 2.777777778, 10.0, 579.36, 360.0),
    ("12 km/h", 3.333333333, 12.0, 482.80, 300.0),
    ("15 km/h", 4.166666667, 15.0, 386.24, 240.0),
    ("3.35 m/s", 3.35, 12.06, 480.40, None),
]


@pytest.mark.parametrize(("text", "mps", "kmh", "mile_s", "km_s"), SPEEDS)
def test_speed_table(
    text: str, mps: float | None, kmh: float | None, mile_s: float, km_s: float | None
) -> None:
    got = units.parse_speed(text).mps
    if mps is not None:
        assert got == pytest.approx(mps, abs=1e-9)
    if kmh is not None:
        assert got / units.KMH_MPS == pytest.approx(kmh, abs=1e-9)
    assert units.pace_s_per_mile(got) == pytest.approx(mile_s, abs=0.0051)
    if km_s is not None:
        assert units.pace_s_per_km(got) == pytest.approx(km_s, abs=0.0051)


def test_factors_are_exact() -> None:
    assert units.MILE_M == 1609.344  # NIST SP 811 B.6: 5280 ft of 0.3048 m
    assert units.MPH_MPS == 0.44704  # NIST SP 811 B.8
    assert pytest.approx(units.MILE_M / 3600.0, rel=1e-15) == units.MPH_MPS


@pytest.mark.parametrize(
    ("text", "mps", "unit"),
    [
        ("9.7 km/h", 9.7 / 3.6, "km/h"),
        ("2.7 m/s", 2.7, "m/s"),
        ("10:00 min/mile", 2.68224, "min/mile"),
        ("10 min/mile", 2.68224, "min/mile"),
        ("7.5 min/mile", 3.57632, "min/mile"),
        ("6:12 min/km", 1000.0 / 372.0, "min/km"),
        (" 6MPH ", 2.68224, "mph"),
        ("12 KM/H", 12 / 3.6, "km/h"),
    ],
)
def test_parse(text: str, mps: float, unit: str) -> None:
    speed = units.parse_speed(text)
    assert speed.mps == pytest.approx(mps, rel=1e-12)
    assert speed.unit == unit


@pytest.mark.parametrize(
    "text",
    ["", "6", "mph", "fast", "6 knots", "-6 mph", "nan mph", "inf m/s", "0 mph", "-0 mph",
     "6:30 mph", "0 min/km", "0:00 min/mile", "6:75 min/mile", "6.5:10 min/km", "-6:00 min/km",
     "6:-1 min/km", "6 min", "six mph", "6 6 mph"],
)  # fmt: skip
def test_refused_naming_what_is_allowed(text: str) -> None:
    with pytest.raises(ValueError, match="allowed: a number and a unit"):
        units.parse_speed(text)


def test_standing_belt_only_where_allowed() -> None:
    assert units.parse_speed("0 km/h", allow_zero=True).mps == 0.0
    with pytest.raises(ValueError, match="pace must be over 0"):
        units.parse_speed("0:00 min/km", allow_zero=True)


@pytest.mark.parametrize(
    ("mph", "shown"),
    [(6, "10:00"), (7, "8:34"), (8.5, "7:04"), (10, "6:00"), (12, "5:00")],
)
def test_pace_display(mph: float, shown: str) -> None:
    assert units.format_speed(mph * units.MPH_MPS, "min/mile") == f"{shown} min/mile"


@pytest.mark.parametrize(("seconds", "shown"), [(59.6, "1:00"), (419.6, "7:00"), (419.4, "6:59")])
def test_pace_carries(seconds: float, shown: str) -> None:
    assert units.format_pace(seconds) == shown


@given(st.floats(min_value=0.0, max_value=1e5))
def test_pace_never_shows_sixty_seconds(seconds: float) -> None:
    minutes, rest = units.format_pace(seconds).split(":")
    assert int(rest) < 60
    assert abs(int(minutes) * 60 + int(rest) - seconds) <= 0.5 + 1e-6


@pytest.mark.parametrize("text", ["6 mph", "9.7 km/h", "2.75 m/s", "10:00 min/mile", "6:12 min/km"])
def test_written_back_in_its_own_unit(text: str) -> None:
    assert str(units.parse_speed(text)) == text


@given(st.floats(min_value=0.1, max_value=15.0), st.sampled_from(["mph", "km/h", "m/s"]))
def test_format_and_parse_agree(mps: float, unit: units.SpeedUnit) -> None:
    assert units.parse_speed(units.format_speed(mps, unit, digits=9)).mps == pytest.approx(
        mps, abs=1e-8
    )


def test_step_length() -> None:
    # v = step length x step frequency (Lieberman 2015, J Exp Biol 218:3406)
    assert units.step_length_m(2.68224, 160) == pytest.approx(1.00584, abs=1e-12)
    assert units.step_length_m(3.0, 180) == pytest.approx(1.0, abs=1e-12)
    assert units.step_length_m(3.0, 170) == pytest.approx(1.058824, abs=5e-7)
    assert units.step_length_m(12 / 3.6, 170) == pytest.approx(1.176471, abs=5e-7)


def test_step_is_not_stride() -> None:
    assert units.strides_per_minute(170) == 85.0
    assert units.stride_hz(170) == pytest.approx(170 / 120)
    assert units.step_time_s(180) == pytest.approx(1 / 3)


@pytest.mark.parametrize(
    ("rate", "length"), [(-0.10, 11.111), (-0.05, 5.263), (0.05, -4.762), (0.10, -9.091)]
)
def test_step_length_change_at_held_speed(rate: float, length: float) -> None:
    # 1/(1+p) - 1, computed
    assert 100 * units.step_length_change(rate) == pytest.approx(length, abs=5e-4)


def test_incline() -> None:
    assert units.incline_deg(100.0) == pytest.approx(45.0)
    assert units.incline_deg(5.0) == pytest.approx(2.8624, abs=1e-4)  # atan(0.05), computed
    assert units.incline_percent(units.incline_deg(7.5)) == pytest.approx(7.5, abs=1e-12)


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
def test_meaningless_rates_and_speeds_are_refused(bad: float) -> None:
    for call in (units.step_time_s, units.stride_hz, units.pace_s_per_km, units.pace_s_per_mile):
        with pytest.raises(ValueError, match="over 0"):
            call(bad)
    with pytest.raises(ValueError, match="speed"):
        units.format_speed(bad if bad != 0.0 else -1.0, "mph")
    with pytest.raises(ValueError, match="pace"):
        units.format_speed(0.0, "min/km")
