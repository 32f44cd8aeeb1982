"""How steps keep to a beat, against circular statistics of scipy and of published examples."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import circmean, circstd, directional_stats, norm

from station.coach.summary import LEAST_RAYLEIGH_Z, BeatSummary, beat_summary

PERIOD_S = 60.0 / 170.0
# Zar, Biostatistical Analysis, examples 26.2 and 27.2 (data in pycircstat2 0.1.15).
ZAR_26 = (45, 55, 81, 96, 110, 117, 132, 154)
ZAR_27 = (66, 75, 86, 88, 88, 93, 97, 101, 118, 130)


def of_degrees(degrees: tuple[float, ...], period_s: float = PERIOD_S) -> BeatSummary:
    made = beat_summary([d / 360.0 * period_s for d in degrees], period_s)
    assert made is not None
    return made


def mean_deg(made: BeatSummary, period_s: float = PERIOD_S) -> float:
    assert made.mean_offset_s is not None
    return made.mean_offset_s / period_s * 360.0


def rayleigh_p(n: int, r: float) -> float:
    """Chance of so long a mean vector without any direction (Zar's approximation)."""
    return float(np.exp(np.sqrt(1 + 4 * n + 4 * (n * n - (n * r) ** 2)) - (1 + 2 * n)))


@pytest.mark.parametrize(
    ("degrees", "mean", "r", "z"),
    [
        (ZAR_26, 98.98775, 0.825218, 5.447875),  # the book prints 99 (from memory)
        (ZAR_27, 94.04817, 0.952137, 10 * 0.952137**2),
        # astropy 8.0.2, docstring of circmean
        ((51, 67, 40, 109, 31, 358), 48.62718088722989, None, None),
    ],
    ids=["Zar 26.2", "Zar 27.2", "astropy"],
)
def test_published_examples(
    degrees: tuple[float, ...], mean: float, r: float | None, z: float | None
) -> None:
    made = of_degrees(degrees)
    assert mean_deg(made) == pytest.approx(mean, abs=1e-4)
    if r is not None:
        assert made.concentration == pytest.approx(r, abs=1e-6)
    if z is not None:
        assert made.steps * made.concentration**2 == pytest.approx(z, abs=1e-4)


def test_five_directions_without_a_common_one_have_no_mean() -> None:
    """pingouin 0.7.0, docstring of circ_rayleigh: z 1.236, p 0.304844."""
    radians = np.array([0.785, 1.570, 3.141, 0.839, 5.934])
    made = of_degrees(tuple(np.degrees(radians)))
    assert made.concentration == pytest.approx(0.497230, abs=1e-6)
    assert made.steps * made.concentration**2 == pytest.approx(1.236, abs=1e-3)
    assert rayleigh_p(5, made.concentration) == pytest.approx(0.304844, abs=1e-5)
    assert made.mean_offset_s is None
    assert made.share_locked == 0.0


@pytest.mark.parametrize("n", [5, 8, 20, 100])
def test_a_mean_is_told_only_where_chance_would_rarely_make_one(n: int) -> None:
    r = np.sqrt(LEAST_RAYLEIGH_Z / n)
    assert 0.03 < rayleigh_p(n, float(r)) < 0.055


@pytest.mark.parametrize(
    ("degrees", "mean"),
    [((350, 10, 30) * 2, 10.0), ((359, 1) * 3, 0.0), ((179, -179) * 3, 180.0)],
)
def test_offsets_wrap(degrees: tuple[float, ...], mean: float) -> None:
    off = (mean_deg(of_degrees(degrees)) - mean + 180.0) % 360.0 - 180.0
    assert off == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("directions", [5, 8, 24])
@pytest.mark.parametrize("turned_deg", [0.0, 17.0])
def test_directions_all_round_have_no_mean(directions: int, turned_deg: float) -> None:
    made = of_degrees(tuple(np.arange(directions) * 360.0 / directions + turned_deg) * 3)
    assert made.concentration < 1e-14
    assert made.mean_offset_s is None


def test_two_opposite_habits_have_no_mean() -> None:
    """One foot on the beat and the other between: the mean would name neither."""
    assert of_degrees((0.0, 180.0) * 10).mean_offset_s is None


@pytest.mark.parametrize(
    ("spread_s", "r"), [(0.010, 0.984279), (0.020, 0.938582), (0.040, 0.776049)]
)
def test_scatter_in_time_shortens_the_mean_vector(spread_s: float, r: float) -> None:
    """At 170 steps a minute, r = exp(-s^2 / 2) with s the scatter on the circle, radians."""
    # The normal distribution's own percentiles: no seed, no chance.
    shares = (np.arange(4000) + 0.5) / 4000
    made = beat_summary(spread_s * norm.ppf(shares) - 0.03, PERIOD_S)
    assert made is not None
    assert made.concentration == pytest.approx(r, abs=2e-4)
    assert made.mean_offset_s == pytest.approx(-0.03, abs=1e-6)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    st.lists(st.floats(-0.17, 0.17), min_size=5, max_size=60),
    st.floats(0.27, 0.6),
)
def test_scipy_says_the_same(offsets_s: list[float], period_s: float) -> None:
    made = beat_summary(offsets_s, period_s)
    assert made is not None
    angles = 2.0 * np.pi * np.array(offsets_s) / period_s
    vectors = np.stack([np.cos(angles), np.sin(angles)], axis=1)
    length = float(directional_stats(vectors, normalize=False).mean_resultant_length)
    assert made.concentration == pytest.approx(length, abs=1e-12)
    if made.mean_offset_s is None:
        return
    half = 0.5 * period_s
    wanted = circmean(offsets_s, high=half, low=-half)
    apart = abs(made.mean_offset_s - wanted)
    assert min(apart, period_s - apart) < 1e-9
    spread = circstd(offsets_s, high=half, low=-half)
    assert made.concentration == pytest.approx(
        np.exp(-0.5 * (2.0 * np.pi * spread / period_s) ** 2), abs=1e-9
    )


@settings(max_examples=40, deadline=None, derandomize=True)
@given(
    st.lists(st.floats(-0.05, 0.05), min_size=5, max_size=40),
    st.floats(-0.2, 0.2),
    st.integers(-3, 3),
)
def test_turning_the_circle_turns_the_mean(
    offsets_s: list[float], turned_s: float, rounds: int
) -> None:
    """Whichever beat an offset is taken from, and whatever a constant delay adds."""
    made = beat_summary(offsets_s, PERIOD_S)
    turned = beat_summary([o + turned_s + rounds * PERIOD_S for o in offsets_s], PERIOD_S)
    assert made is not None
    assert turned is not None
    assert turned.concentration == pytest.approx(made.concentration, abs=1e-12)
    assert turned.share_locked == made.share_locked
    assert made.mean_offset_s is not None
    assert turned.mean_offset_s is not None
    apart = (turned.mean_offset_s - made.mean_offset_s - turned_s) / PERIOD_S
    assert abs(apart - round(apart)) < 1e-9
