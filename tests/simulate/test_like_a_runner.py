"""The simulated gait held against one real runner on a treadmill (force-plate truth).

Fukuchi, Fukuchi & Duarte (2017), PeerJ 5:e3298, CC BY 4.0; read from beside the project.
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from station.simulate.gait import Runner
from station.simulate.parameters import GaitParameters
from station.simulate.trace import frame_times, poses, side_view
from station.values import LANDMARK_INDEX, LEG_PARTS, Floats

FOLDER = Path(__file__).resolve().parents[2] / ".." / "shared" / "data" / "treadmill_running"
PHASE_S = np.linspace(-0.48, 0.27, 151)
FLAT = int(np.argmin(np.abs(PHASE_S - 0.1)))

pytestmark = pytest.mark.skipif(
    not (FOLDER / "trace.csv").exists(), reason="the real trial is not beside the project"
)


def curves(t_s: Floats, leg: Floats, contacts_s: list[float]) -> dict[str, Floats]:
    """Average a leg's path, (n, 5, 2) metres hip to toe, about its contacts."""
    inside = [c for c in contacts_s if t_s[0] < c - 0.48 and c + 0.27 < t_s[-1]]
    mean = np.mean(
        [
            [[np.interp(c + PHASE_S, t_s, leg[:, p, k]) for k in range(2)] for p in range(5)]
            for c in inside
        ],
        axis=0,
    )
    hip, knee, ankle, heel, toe = mean
    shank = np.degrees(np.arctan2(ankle[0] - knee[0], knee[1] - ankle[1]))
    thigh = np.degrees(np.arctan2(knee[0] - hip[0], hip[1] - knee[1]))
    return {
        "shank": shank,
        "flexion": thigh - shank,
        "thigh": thigh,
        # Heights over those in mid-stance: markers sit elsewhere on a shoe than landmarks do.
        "ankle_y": ankle[1] - ankle[1, FLAT],
        "heel_y": heel[1] - heel[1, FLAT],
        "toe_y": toe[1] - toe[1, FLAT],
        "reach": ankle[0] - hip[0],
    }


@pytest.fixture(scope="module")
def both() -> tuple[dict[str, Floats], dict[str, Floats]]:
    with (FOLDER / "trace.csv").open() as file:
        rows = list(csv.DictReader(file))
    with (FOLDER / "contacts.csv").open() as file:
        contacts = [float(r["t_contact_s"]) for r in csv.DictReader(file) if r["side"] == "left"]
    t_s = np.array([float(r["t_s"]) for r in rows])
    px = np.array([[[float(r[f"left_{p}_{k}"]) for k in "xy"] for p in LEG_PARTS] for r in rows])
    real = curves(t_s, (px - [640.0, 640.0]) / [360.0, -360.0], contacts)
    way = GaitParameters(belt_mps=2.5, rate_spm=157.0, shank_deg=6.0, foot_deg=-3.0, height_m=1.81)
    runner, view = Runner(way), side_view(way)
    shown = list(poses(runner, view, frame_times(120.0, 10.0)))
    index = [LANDMARK_INDEX[f"left_{p}"] for p in LEG_PARTS]
    leg = np.array([view.to_bay(pose.xy_px[index]) for pose in shown])
    hits = [s.t_contact_s for s in runner.truth() if s.side == "left"]
    return real, curves(np.array([pose.t_s for pose in shown]), leg, hits)


@pytest.mark.parametrize(
    ("name", "bound"),
    [
        ("shank", 5.0), ("flexion", 7.0), ("thigh", 5.0), ("ankle_y", 0.025), ("heel_y", 0.03),
        ("toe_y", 0.035), ("reach", 0.04),
    ],
)  # fmt: skip
def test_curves_are_those_of_a_runner(
    both: tuple[dict[str, Floats], dict[str, Floats]], name: str, bound: float
) -> None:
    real, simulated = both
    assert np.sqrt(np.mean((real[name] - simulated[name]) ** 2)) < bound


def test_peaks_are_those_of_a_runner(both: tuple[dict[str, Floats], dict[str, Floats]]) -> None:
    real, simulated = both
    swing, stance = PHASE_S < -0.1, (PHASE_S > 0.02) & (PHASE_S < 0.2)
    assert simulated["flexion"][swing].max() == pytest.approx(real["flexion"][swing].max(), abs=6)
    assert simulated["flexion"][stance].max() == pytest.approx(real["flexion"][stance].max(), abs=7)
    late = (PHASE_S > -0.06) & (PHASE_S < 0.0)
    assert simulated["shank"][late].max() > 7.0  # reaches ahead of its landing angle, then retracts
