"""The measurement's fits and tracks against numpy's and scipy's own."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.linalg import solve_discrete_are
from scipy.optimize import least_squares
from scipy.signal import savgol_coeffs
from scipy.stats import t as student_t

from station.measure import leg_filter
from station.measure import local_fit as local_fit_module
from station.measure.contacts import sole_places
from station.measure.history import ANKLE, HIP, KNEE
from station.measure.leg_tracks import LegTracks
from station.measure.local_fit import local_fit, smooth_curves, smooth_lines
from station.measure.strike_time import fit_strike, lag_at_contact
from station.values import Floats

RANDOM = np.random.default_rng(11)


# --- local polynomial fits ----------------------------------------------------------------------


@pytest.mark.parametrize("frames", [5, 7, 9])
@pytest.mark.parametrize("degree", [1, 2, 3])
@pytest.mark.parametrize("place", ["middle", "last", "between"])
def test_even_frames_give_savitzky_golay_coefficients(frames: int, degree: int, place: str) -> None:
    """Each frame's weight in value and rate, found by moving that frame alone."""
    t_s = np.arange(frames) / 60.0
    at = {"middle": (frames - 1) // 2, "last": frames - 1, "between": frames - 1.5}[place]
    for deriv in (0, 1):
        wanted = savgol_coeffs(frames, degree, deriv, 1.0 / 60.0, pos=at, use="dot")
        # Little enough for no frame to be far off: that one would be left out.
        base = RANDOM.normal(0.0, 1.0, frames)
        got = []
        for i in range(frames):
            moved = base.copy()
            moved[i] += 1e-3
            pair = [local_fit(t_s, y, at / 60.0, degree) for y in (base, moved)]
            assert all(fit is not None and fit.count == frames for fit in pair)
            a, b = ((f.value, f.rate)[deriv] for f in pair if f is not None)
            got.append((b - a) / 1e-3)
        assert np.array(got) == pytest.approx(wanted, rel=1e-6, abs=1e-7 * 60.0**deriv)


def test_uneven_frames_give_numpy_s_polynomial_and_its_error() -> None:
    t_s = np.sort(RANDOM.uniform(0.0, 0.1, 9))
    y = 3.0 + 200.0 * t_s + RANDOM.normal(0.0, 1.0, 9)
    fit = local_fit(t_s, y, 0.04)
    coefficients, covariance = np.polyfit(t_s - 0.04, y, 2, cov=True)
    assert fit is not None
    assert fit.count == 9
    assert fit.value == pytest.approx(coefficients[2], rel=1e-9)
    assert fit.rate == pytest.approx(coefficients[1], rel=1e-9)
    assert fit.value_error * fit.residual == pytest.approx(np.sqrt(covariance[2, 2]), rel=1e-6)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.integers(7, 12), st.integers(0, 11), st.floats(15.0, 200.0))
def test_one_odd_frame_is_left_out_wherever_it_is(frames: int, odd: int, off: float) -> None:
    t_s = np.arange(frames) / 60.0
    y = 5.0 + 100.0 * t_s - 400.0 * t_s**2 + 0.1 * np.cos(37.0 * np.arange(frames))
    spoiled = y.copy()
    spoiled[odd % frames] += off
    fit = local_fit(t_s, spoiled, 3.0 / 60.0)
    assert fit is not None
    assert fit.count == frames - 1
    kept = np.arange(frames) != odd % frames
    wanted = np.polyval(np.polyfit(t_s[kept], y[kept], 2), 3.0 / 60.0)
    assert fit.value == pytest.approx(wanted, abs=1e-9)


@pytest.mark.parametrize("frames", [6, 7, 25])
def test_of_ordinary_frames_few_are_left_out(frames: int) -> None:
    """One fit in twenty at most, by chance; a fixed share of the residuals took every sixth."""
    random = np.random.default_rng(3)
    t_s = np.arange(frames) / 60.0
    fits = [local_fit(t_s, random.normal(0.0, 1.0, frames), 0.05) for _ in range(800)]
    cut = sum(fit is not None and fit.count < frames for fit in fits)
    assert cut <= 59  # 40, and three standard deviations


def test_odd_frame_limits_are_student_s() -> None:
    for i, limit in enumerate(local_fit_module._LIMITS):
        free = 2 + i
        wanted = student_t.ppf(1.0 - 0.025 / (free + 4), free)
        assert limit == pytest.approx(wanted, abs=0.06)


def test_too_few_frames_lower_the_degree_and_then_give_nothing() -> None:
    t_s = np.array([0.0, 0.1, 0.2])
    line = local_fit(t_s, np.array([1.0, np.nan, 3.0]), 0.05)
    assert line is not None
    assert line.value == pytest.approx(1.5)
    assert line.rate == pytest.approx(10.0)
    assert np.isnan(line.residual)
    assert local_fit(t_s, np.array([np.nan, np.nan, 3.0]), 0.05) is None


def test_a_parabola_held_straight_is_the_least_squares_one_with_a_sample_more() -> None:
    t_s = np.arange(6) / 60.0
    y = 4.0 - 150.0 * t_s - 500.0 * t_s**2 + 0.1 * np.cos(37.0 * np.arange(6))
    fit = local_fit(t_s, y, 0.04, straight_s2=2e-4)
    assert fit is not None
    assert fit.count == 6
    powers = np.vstack([np.vander(t_s - 0.04, 3, increasing=True), [0.0, 0.0, 2e-4]])
    wanted, left, *_ = np.linalg.lstsq(powers, np.append(y, 0.0), rcond=None)
    assert fit.value == pytest.approx(wanted[0], rel=1e-9)
    assert fit.rate == pytest.approx(wanted[1], rel=1e-9)
    assert fit.residual == pytest.approx(np.sqrt(left[0] / 4.0), rel=1e-9)
    error = np.sqrt(np.linalg.inv(powers.T @ powers)[0, 0])
    assert fit.value_error == pytest.approx(error, rel=1e-9)
    free = local_fit(t_s, y, 0.04)
    assert free is not None
    assert fit.value_error < free.value_error


def test_a_parabola_that_is_clearly_bent_is_not_held_straight() -> None:
    t_s = np.arange(8) / 60.0
    y = 4.0 - 150.0 * t_s - 5000.0 * t_s**2 + 0.1 * np.cos(37.0 * np.arange(8))
    held, free = local_fit(t_s, y, 0.06, straight_s2=0.01), local_fit(t_s, y, 0.06)
    assert held is not None
    assert free is not None
    assert held.count == free.count == 8
    assert held.value == pytest.approx(free.value, rel=1e-9)


# --- pooled stances: local straight lines -------------------------------------------------------


def test_smoothing_is_a_weighted_straight_line_at_each_instant() -> None:
    tau = np.sort(RANDOM.uniform(-0.3, 0.3, 720))
    y = 20.0 * np.sin(40.0 * tau) + RANDOM.normal(0.0, 1.0, 720)
    y[::17] = np.nan
    at = np.linspace(-0.03, 0.03, 7)
    value, rate = smooth_lines(tau, y, at, 0.011)
    good = np.isfinite(y)
    for i, centre in enumerate(at):
        d = tau[good] - centre
        # numpy takes the weights' roots.
        slope, level = np.polyfit(d, y[good], 1, w=np.exp(-0.25 * (d / 0.011) ** 2))
        assert value[i] == pytest.approx(level, rel=1e-9)
        assert rate[i] == pytest.approx(slope, rel=1e-9)


def test_smoothing_says_nothing_where_no_frame_is_near() -> None:
    value, rate = smooth_lines(
        np.array([0.0, 0.001]), np.array([1.0, 1.0]), np.array([0.0, 0.2]), 0.011
    )
    assert value[0] == pytest.approx(1.0)
    assert np.isnan(value[1])
    assert np.isnan(rate[1])


def test_smoothing_by_curves_is_a_weighted_parabola_where_there_are_samples_enough() -> None:
    tau = np.append(np.sort(RANDOM.uniform(-0.06, 0.06, 300)), [0.2, 0.201])
    y = 20.0 * np.sin(40.0 * tau) + RANDOM.normal(0.0, 1.0, len(tau))
    y[:300:17] = np.nan
    at = np.append(np.linspace(-0.03, 0.03, 7), 0.2)
    value = smooth_curves(tau, y, at, 0.010)
    good = np.isfinite(y)
    for i, centre in enumerate(at[:-1]):
        d = tau[good] - centre
        level = np.polyfit(d, y[good], 2, w=np.exp(-0.25 * (d / 0.010) ** 2))[2]
        assert value[i] == pytest.approx(level, rel=1e-6, abs=1e-6)
    assert value[-1] == pytest.approx(smooth_lines(tau, y, at, 0.010)[0][-1])


# --- strike fit ---------------------------------------------------------------------------------


@pytest.mark.parametrize("fps", [30.0, 60.0, 120.0])
def test_strike_fit_is_the_least_squares_one(fps: float) -> None:
    """scipy, begun at the truth, finds the same instant for the same noisy frames."""
    belt, slowing, t_belt = 900.0, 28000.0, 0.013
    t_s = np.arange(-0.12, 0.08, 1.0 / fps)

    def path(t_e: float, place: Floats, a: Floats) -> Floats:
        run = 0.5 * np.maximum(t_e - t_s, 0.0)[:, None] ** 2
        return place - belt * t_s[:, None] - a * run

    exact = path(t_belt, np.array([500.0, 470.0, 560.0]), np.full(3, slowing))
    x = exact + RANDOM.normal(0.0, 2.0, exact.shape)

    def left(p: Floats) -> Floats:
        return np.asarray(path(p[0], p[1:4], 1e4 * p[4:7]) - x).ravel()

    best = least_squares(left, [t_belt, 500.0, 470.0, 560.0, 2.8, 2.8, 2.8], x_scale="jac")
    lag = lag_at_contact(belt, 324.0)
    fit = fit_strike(t_s, x, belt, -0.06, lag)
    assert fit is not None
    # The station seeks over a 2 ms grid and takes the lowest point of a parabola.
    assert fit.t_belt_s == pytest.approx(best.x[0], abs=0.0005)
    assert fit.deceleration == pytest.approx(1e4 * best.x[4:7].mean(), rel=0.03)
    clean = fit_strike(t_s, exact, belt, -0.06, lag)
    assert clean is not None
    assert clean.t_half_s == pytest.approx(t_belt - lag / slowing, abs=0.0005)


def test_what_a_foot_lags_behind_the_belt_is_the_real_trials_and_grows_less_than_speed() -> None:
    # The trial (Fukuchi et al. 2017, PeerJ 5:e3298): the shoe moved back at 0.53 to 0.58 of the
    # belt's 2.5 m/s as force began; leg 0.90 m, here at 360 px/m.
    assert lag_at_contact(900.0, 324.0) / 900.0 == pytest.approx(1.0 - 0.555, abs=0.025)
    # Clark et al. 2023, J Hum Kinet 87:1 (abstract): it grew only slightly with speed.
    assert 1.0 < lag_at_contact(1800.0, 324.0) / lag_at_contact(900.0, 324.0) < 1.6
    assert lag_at_contact(100.0, 324.0) < 100.0
    # The same picture twice as large.
    assert lag_at_contact(1800.0, 648.0) == pytest.approx(2.0 * lag_at_contact(900.0, 324.0))


def test_a_foot_that_rolls_about_its_heel_stays_where_its_sole_is() -> None:
    leg = 300.0
    shoe = np.array([[0.042, 0.05], [-0.008, 0.017], [0.144, 0.006]]) * leg / 0.491
    turn = np.radians(np.linspace(14.0, 0.0, 8))
    c, s = np.cos(turn)[:, None], np.sin(turn)[:, None]
    feet = np.stack([c * shoe[:, 0] - s * shoe[:, 1], s * shoe[:, 0] + c * shoe[:, 1]], axis=-1)
    as_seen, told = feet[..., 0], sole_places(feet, leg)
    assert np.ptp(as_seen[:, 0]) > 0.02 * leg
    assert np.ptp(told[:, :2], axis=0).max() < 0.004 * leg
    # The flatter it lies, the longer it is ahead; heel and toe don't lie equally high, so not all
    # of that is seen in their line.
    assert np.ptp(told[:, 2]) < 0.7 * np.ptp(as_seen[:, 2])
    lost = feet.copy()
    lost[3, 2] = np.nan
    assert np.isfinite(sole_places(lost, leg)[3, :2]).all()


def test_a_foot_that_comes_down_on_its_ball_stays_where_its_sole_is() -> None:
    length = 60.0
    turn = -np.radians(np.linspace(20.0, 0.0, 8))
    line = np.stack([np.cos(turn), np.sin(turn)], axis=-1) * length
    heel = -0.72 * line  # they turn about the ball at 0
    feet = np.stack([heel, heel, heel + line], axis=1)
    # Of a leg of no length: what the points' heights over the sole do is tried above.
    told = sole_places(feet, 0.0)
    assert np.ptp(feet[:, 1, 0]) > 2.0
    assert told[:, 1] == pytest.approx(-0.72 * length)
    assert told[:, 2] == pytest.approx(0.28 * length)


# --- leg tracks: a Kalman filter ----------------------------------------------------------------


@pytest.mark.parametrize("fps", [30.0, 60.0, 120.0])
def test_leg_tracks_settle_on_the_riccati_gain(fps: float) -> None:
    """Place and speed of each point, pushed about by unknown accelerations (white, per frame)."""
    dt = 1.0 / fps
    legs = np.zeros((2, 5, 2))
    legs[:, KNEE, 1], legs[:, ANKLE, 1] = -120.0, -240.0
    legs[:, ANKLE + 1] = [-20.0, -250.0]
    legs[:, ANKLE + 2] = [50.0, -250.0]
    legs[1, :, 0] += 160.0
    tracks = LegTracks()
    for i in range(round(1.5 * fps)):
        tracks.push(i * dt, legs)
    leg = tracks.leg_px
    assert leg == pytest.approx(240.0, rel=0.005)
    place, speed = tracks.place_px, tracks.speed_px_s
    moved = legs + np.array([1.0, 0.0])
    tracks.push(round(1.5 * fps) * dt, moved)
    predicted = place + dt * speed
    off = (moved - predicted)[..., 0]
    gain_place = (tracks.place_px - predicted)[..., 0] / off
    gain_speed = (tracks.speed_px_s - speed)[..., 0] / off
    jolt = (leg_filter.ACCELERATION * leg) ** 2
    noise = (leg_filter.NOISE * leg) ** 2
    carry = np.array([[1.0, dt], [0.0, 1.0]])
    push = jolt * np.array([[0.25 * dt**4, 0.5 * dt**3], [0.5 * dt**3, dt**2]])
    see = np.array([[1.0, 0.0]])
    ahead = solve_discrete_are(carry.T, see.T, push, np.array([[noise]]))
    wanted = (ahead @ see.T / (see @ ahead @ see.T + noise)).ravel()
    assert gain_place == pytest.approx(np.full((2, 5), wanted[0]), rel=0.01)
    assert gain_speed == pytest.approx(np.full((2, 5), wanted[1]), rel=0.01)
    assert gain_place[0, HIP] < 1.0
