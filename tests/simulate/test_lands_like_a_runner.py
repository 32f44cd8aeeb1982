"""How the simulated leg comes down, held against a real runner's and against published speeds.

The real runner: Fukuchi, Fukuchi & Duarte (2017), PeerJ 5:e3298, CC BY 4.0 (force-plate truth, 2.5
m/s), read from beside the project.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from station.bench.trial import PX_PER_M, is_there, read_contacts, read_poses
from station.measure.contacts import sole_places
from station.simulate.gait import Runner
from station.simulate.give import lag_mps
from station.simulate.parameters import GaitParameters
from station.values import LEG_INDEX, Floats, Side

FOLDER = Path(__file__).resolve().parents[2] / ".." / "shared" / "data" / "treadmill_running"
PHASE_S = np.arange(-0.10, 0.0401, 0.01)
TOUCH = 10
"""Where `PHASE_S` is 0."""
LIKE = GaitParameters(
    belt_mps=2.5, rate_spm=157.0, shank_deg=6.0, foot_deg=-3.0, height_m=1.81, variability=0.0
)
Way = dict[str, Floats]
LEG_M, STEP_S = 0.89, 0.002


def angle(a: Floats, b: Floats) -> Floats:
    """Return the angle of the segment from `a` down to `b` to the vertical, degrees."""
    return np.degrees(np.arctan2(b[:, 0] - a[:, 0], a[:, 1] - b[:, 1]))


def landings(
    t_s: Floats, legs: dict[Side, Floats], contacts: list[tuple[float, Side]], belt_mps: float
) -> Way:
    """Average how the legs, (n, 5, 2) metres hip to toe, come down at their contacts."""
    rows: dict[str, list[Floats]] = {}
    for t_contact_s, side in contacts:
        if t_contact_s - 0.15 < t_s[0] or t_contact_s + 0.15 > t_s[-1]:
            continue
        path = CubicSpline(t_s, legs[side].reshape(len(t_s), 10))
        place = path(t_contact_s + PHASE_S).reshape(-1, 5, 2)
        speed = path(t_contact_s + PHASE_S, 1).reshape(-1, 5, 2)
        flat = path(t_contact_s + 0.1).reshape(5, 2)
        shank = angle(place[:, 1], place[:, 2])
        ball, ball_flat = (
            p[..., 3, :] + 0.72 * (p[..., 4, :] - p[..., 3, :]) for p in (place, flat)
        )
        sole = np.minimum(place[:, 3, 1] - flat[3, 1], ball[:, 1] - ball_flat[1])
        around = path(t_contact_s + np.stack([PHASE_S - STEP_S, PHASE_S + STEP_S]))
        ahead = sole_places(around.reshape(-1, 5, 2)[:, 2:], LEG_M).mean(axis=1).reshape(2, -1)
        sole_speed = (ahead[1] - ahead[0]) / (2.0 * STEP_S * belt_mps)
        for name, row in (
            ("shank", shank - shank[TOUCH]),
            ("shank_rate", np.gradient(shank, PHASE_S)),
            ("thigh", angle(place[:, 0], place[:, 1])),
            ("foot_share", speed[:, 3:, 0].mean(axis=1) / belt_mps),
            ("sole_share", sole_speed),
            ("foot_fall", speed[:, 3:, 1].mean(axis=1)),
            ("ankle_fall", speed[:, 2, 1]),
            ("hip_fall", speed[:, 0, 1]),
            ("sole", sole),
        ):
            rows.setdefault(name, []).append(row)
    return {name: np.mean(values, axis=0) for name, values in rows.items()}


def simulated(way: GaitParameters, seconds: float = 2.0) -> Way:
    runner = Runner(way)
    t_s = np.arange(0.0, seconds, 1.0 / 240.0)
    legs: dict[Side, list[list[Floats]]] = {"left": [], "right": []}
    for t in t_s:
        for side, leg in runner.figure_at(float(t)).legs.items():
            legs[side].append([leg.hip, leg.knee, leg.ankle, leg.heel, leg.toe])
    contacts = [(s.t_contact_s, s.side) for s in runner.truth() if s.t_contact_s > 0.5]
    return landings(t_s, {s: np.array(v) for s, v in legs.items()}, contacts, way.belt_mps)


@pytest.fixture(scope="module")
def like() -> Way:
    return simulated(LIKE, 3.0)


@pytest.fixture(scope="module")
def real() -> Way:
    if not is_there(FOLDER):
        pytest.skip("the real trial is not beside the project")
    shown = read_poses(FOLDER)
    legs: dict[Side, Floats] = {
        side: np.stack([p.xy_px[list(LEG_INDEX[side])] for p in shown]) * [1.0, -1.0] / PX_PER_M
        for side in LEG_INDEX
    }
    contacts = [(s.t_contact_s, s.side) for s in read_contacts(FOLDER)]
    return landings(np.array([p.t_s for p in shown]), legs, contacts, 2.5)


@pytest.mark.parametrize(
    ("name", "bound"),
    [
        ("shank", 2.5),  # deg, against the angle at contact
        ("shank_rate", 40.0),  # deg/s, of 450 down to -380
        ("foot_share", 0.10),  # of the belt's speed, of 1.3 down to -1.05
        ("hip_fall", 0.10),  # m/s
        ("sole", 0.008),  # m over where it lies
    ],
)
def test_the_last_tenth_of_a_second_is_a_real_runners(
    real: Way, like: Way, name: str, bound: float
) -> None:
    assert np.sqrt(np.mean((real[name] - like[name]) ** 2)) < bound


def evenness(way: Way) -> float:
    """Return the strongest slowing of the foot by the weakest in its last 60 ms, by 20 ms."""
    slowing = -np.diff(way["foot_share"][TOUCH - 6 : TOUCH + 1 : 2])
    assert slowing.min() > 0.0
    return float(slowing.max() / slowing.min())


def test_a_real_foot_is_slowed_evenly_before_it_lands(real: Way, like: Way) -> None:
    assert evenness(real) < 1.3
    assert evenness(like) < 1.3


def goes_on(way: Way) -> float:
    """Return the foot's slowing in the 10 ms after the touch by that in the 20 ms before."""
    slowing = -np.diff(way["sole_share"][TOUCH - 2 : TOUCH + 2])
    return float(2.0 * slowing[2] / (slowing[0] + slowing[1]))


def test_nothing_slows_the_foot_at_once_as_it_touches(real: Way, like: Way) -> None:
    assert 0.7 < goes_on(real) < 1.4
    assert 0.7 < goes_on(like) < 1.4


CORNERS = [
    GaitParameters(belt_mps=5.1, rate_spm=173.0, foot_deg=-7.0, shank_deg=6.5, height_m=1.61),
    GaitParameters(belt_mps=5.0, rate_spm=157.0, foot_deg=19.0, shank_deg=14.0, height_m=1.93),
    GaitParameters(belt_mps=4.1, rate_spm=193.0, foot_deg=-8.0, shank_deg=-2.0, height_m=1.53),
    GaitParameters(belt_mps=3.4, rate_spm=164.0, foot_deg=12.0, shank_deg=12.0, height_m=1.59),
    GaitParameters(belt_mps=2.1, rate_spm=178.0, foot_deg=14.0, shank_deg=6.0, height_m=1.63),
]


@pytest.mark.parametrize("way", CORNERS, ids=lambda w: f"{w.belt_mps:g} m/s")
def test_so_is_the_simulated_one_whatever_its_way_of_running(way: GaitParameters) -> None:
    seen = simulated(way, 1.5)
    assert evenness(seen) < 1.6
    # Peaks of captured running: 674 deg/s at 3.56 m/s (motion clip of pybullet, zlib licence).
    assert np.abs(seen["shank_rate"]).max() < 800.0
    assert 0.6 < goes_on(seen) < 1.6
    assert seen["ankle_fall"][TOUCH] > -1.9


def test_thigh_and_foot_are_faster_at_a_faster_belt_as_published() -> None:
    # Clark, Meng & Stearne 2020, Biol Open 9:bio053546 (abstract): from 3.1 to 10 m/s the thigh's
    # angular speed and the lower limb's speed down at touch-down rise with speed in a line.
    thigh, fall = [], []
    for mps, spm in ((2.5, 160.0), (4.0, 175.0), (5.5, 190.0)):
        seen = simulated(GaitParameters(belt_mps=mps, rate_spm=spm, variability=0.0), 1.5)
        thigh.append(seen["thigh"][TOUCH - 2] - seen["thigh"][TOUCH])
        fall.append(-seen["ankle_fall"][TOUCH])
    assert thigh[0] < thigh[1] < thigh[2]
    assert fall[0] < fall[1] < fall[2]


def test_what_the_foot_lags_grows_far_less_than_the_belts_speed() -> None:
    # Clark et al. 2023, J Hum Kinet 87:1 (abstract): the difference between running speed and the
    # foot's speed back at touch-down grew only slightly with speed (r = 0.36).
    assert 1.0 < lag_mps(5.0, 1.75) / lag_mps(2.5, 1.75) < 1.6
