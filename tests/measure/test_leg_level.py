"""The best estimate of a landing: against the closed form, and on legs whose truth is known."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest

from station.measure import leg_level
from station.measure.leg_level import LegLevel
from station.values import Floats

NEAR_DEG, FAR_DEG = 1.5, 2.0
"""Error of one reading, standard deviation; as in `Eyesight`."""


def followed(truth: Floats, error_deg: float, seed: int, stated: float = 1.0) -> Floats:
    """Return (n, 3): value, its standard error and the reading of each landing."""
    luck, leg = np.random.default_rng(seed), LegLevel()
    readings = truth + error_deg * luck.standard_normal(len(truth))
    told = [leg.take(float(y), stated * error_deg) for y in readings]
    return np.column_stack([np.array(told), readings])


def steady(level_deg: float, count: int, seed: int, scatter_deg: float = 1.0) -> Floats:
    return level_deg + scatter_deg * np.random.default_rng([9, seed]).standard_normal(count)


# --- the formula --------------------------------------------------------------------------------


def test_without_changes_it_is_the_filter_of_a_random_walk(monkeypatch: pytest.MonkeyPatch) -> None:
    """With one scatter and Gaussian noises the answer is the Kalman filter's, in closed form."""
    drift, scatter, error = 0.25, 1.0, 1.5
    monkeypatch.setattr(leg_level, "_CHANGED", 0.0)
    monkeypatch.setattr(leg_level, "_DRIFT_DEG", drift)
    monkeypatch.setattr(leg_level, "_SCATTERS", np.array([scatter]))
    monkeypatch.setattr(leg_level, "_WAYS", leg_level._ways())
    leg, luck = LegLevel(), np.random.default_rng(3)
    level, variance = 0.0, 1e6
    for y in 6.0 + 1.8 * luck.standard_normal(40):
        value, value_error = leg.take(float(y), error)
        variance += drift**2
        prior = variance + scatter**2
        share = prior / (prior + error**2)
        assert value == pytest.approx(level + share * (y - level), abs=0.02)
        assert value_error == pytest.approx(error * share**0.5, abs=0.02)
        gain = variance / (prior + error**2)
        level, variance = level + gain * (y - level), variance * (1.0 - gain)


def test_the_first_landing_is_told_as_it_was_read() -> None:
    value, error = LegLevel().take(9.3, 1.5)
    assert value == pytest.approx(9.3, abs=0.02)
    assert error == pytest.approx(1.5, rel=0.05)


def test_a_later_landing_changes_nothing_and_a_mirrored_leg_gives_mirrored_values() -> None:
    readings = steady(5.0, 60, 1, 2.0)
    one, part, mirrored = LegLevel(), LegLevel(), LegLevel()
    whole = [one.take(float(y), 1.4) for y in readings]
    assert [part.take(float(y), 1.4) for y in readings[:30]] == whole[:30]
    for (value, error), y in zip(whole, readings, strict=True):
        other_value, other_error = mirrored.take(-float(y), 1.4)
        assert other_value == pytest.approx(-value, abs=1e-9)
        assert other_error == pytest.approx(error, abs=1e-9)


@pytest.mark.parametrize(("y", "error"), [(6.0, float("nan")), (31.0, 1.0), (-26.0, 1.0)])
def test_what_cannot_be_weighed_is_given_back_and_teaches_nothing(y: float, error: float) -> None:
    leg, same = LegLevel(), LegLevel()
    for reading in steady(6.0, 20, 2):
        leg.take(float(reading), 1.5)
        same.take(float(reading), 1.5)
    value, value_error = leg.take(y, error)
    assert value == y
    assert value_error == error or np.isnan(error)
    assert leg.take(7.0, 1.5) == same.take(7.0, 1.5)


def test_a_forgotten_level_is_read_anew() -> None:
    leg = LegLevel()
    for reading in steady(6.0, 40, 2):
        leg.take(float(reading), 1.5)
    leg.forget()
    assert leg.take(12.0, 1.5)[0] == pytest.approx(12.0, abs=0.02)


# --- a steady leg -------------------------------------------------------------------------------


@pytest.mark.parametrize("error_deg", [NEAR_DEG, FAR_DEG])
def test_a_steady_leg_is_known_nearly_as_well_as_can_be(error_deg: float) -> None:
    """The least error possible is t e / sqrt(t^2 + e^2), with level and scatter known beforehand.

    What the station states of it is up to a fifth more than it is: a change may always have begun.
    """
    truth = steady(6.0, 1200, 4)
    told = followed(truth, error_deg, 4)[30:]
    off = told[:, 0] - truth[30:]
    least = error_deg / np.hypot(1.0, error_deg)
    assert least * 0.95 < off.std() < 1.3 * least
    assert abs(off.mean()) < 0.1
    assert 1.0 < np.sqrt(np.mean(told[:, 1] ** 2)) / off.std() < 1.25


@pytest.mark.parametrize("stated", [0.8, 1.25])
def test_an_error_stated_wrong_by_a_quarter_costs_little(stated: float) -> None:
    truth = steady(6.0, 800, 5)
    off = followed(truth, NEAR_DEG, 5, stated)[30:, 0] - truth[30:]
    assert off.std() < 0.8 * NEAR_DEG


# --- a leg that changes -------------------------------------------------------------------------

BEFORE, AFTER, RUNS = 25, 12, 40


@lru_cache
def lags(change_deg: float, error_deg: float) -> Floats:
    """Return how many landings of each run were told on the old side of half the change."""
    found = []
    for seed in range(RUNS):
        truth = steady(6.0, BEFORE + AFTER, seed)
        truth[BEFORE:] += change_deg
        after = followed(truth, error_deg, seed)[BEFORE:, 0]
        past = np.sign(change_deg) * (after - 6.0) > abs(change_deg) / 2.0
        found.append(int(np.argmax(past)) if past.any() else AFTER)
    return np.array(found)


@pytest.mark.parametrize("change_deg", [5.0, -5.0])
def test_five_degrees_are_followed_with_the_first_or_second_landing(change_deg: float) -> None:
    assert np.median(lags(change_deg, NEAR_DEG)) <= 1
    assert np.median(lags(change_deg, FAR_DEG)) <= 1
    assert np.quantile(lags(change_deg, NEAR_DEG), 0.95) <= 3
    assert np.quantile(lags(change_deg, FAR_DEG), 0.95) <= 4


@pytest.mark.parametrize("change_deg", [3.0, -3.0])
def test_three_degrees_take_a_landing_or_two(change_deg: float) -> None:
    """One reading, off by 1.5 to 2 deg itself, does not show them for sure. Of 300 runs up or down
    the median is 1 landing on either leg; 19 of 20 are followed after 4 on the near, 6 on the far.
    """
    assert np.median(lags(change_deg, NEAR_DEG)) <= 1
    assert np.median(lags(change_deg, FAR_DEG)) <= 1
    assert lags(change_deg, NEAR_DEG).mean() < 2.0
    assert lags(change_deg, FAR_DEG).mean() < 2.75


@pytest.mark.parametrize("error_deg", [NEAR_DEG, FAR_DEG])
@pytest.mark.parametrize("pattern", [(4.0, 10.0), (5.0, 5.0, 5.0, 10.0, 10.0, 10.0)])
def test_who_lands_well_and_badly_in_turn_is_not_averaged(
    pattern: tuple[float, ...], error_deg: float
) -> None:
    """Both kinds come a little nearer to each other than they are, by no more than any estimate of
    least error makes it: by the readings' noise as a share of all their scatter.
    """
    truth = np.resize(pattern, 400) + steady(0.0, 400, 6)
    told = followed(truth, error_deg, 6)[30:]
    truth = truth[30:]
    assert (told[:, 0] - truth).std() < (told[:, 2] - truth).std()  # better than the reading alone
    bad = truth > np.mean(pattern)
    apart = told[bad, 0].mean() - told[~bad, 0].mean()
    share = truth.var() / (truth.var() + error_deg**2)
    assert apart > 0.95 * share * (truth[bad].mean() - truth[~bad].mean())
