"""Body proportions: of the simulated figure, and of the legs that the measurement sees."""

from __future__ import annotations

import numpy as np
import pytest

from station.measure.leg_tracks import LegTracks
from station.simulate.gait import Runner
from station.simulate.parameters import Body, GaitParameters
from station.simulate.trace import add_noise, frame_times, poses, side_view
from station.values import LEG_INDEX, Pose, View

# Fractions of standing height: Winter, Biomechanics and Motor Control of Human Movement, 2009,
# Fig. 4.1 (after Drillis & Contini).
THIGH, SHANK, UPPER_ARM, FOREARM = 0.245, 0.246, 0.186, 0.146
HIP, KNEE, ANKLE = 0.530, 0.285, 0.039
LEGS = np.array([LEG_INDEX["left"], LEG_INDEX["right"]])


def test_the_table_agrees_with_itself() -> None:
    assert pytest.approx(THIGH, abs=1e-12) == HIP - KNEE
    assert pytest.approx(SHANK, abs=1e-12) == KNEE - ANKLE


@pytest.mark.parametrize("height_m", [1.50, 1.75, 2.00])
def test_the_simulated_figure_has_the_table_s_limbs(height_m: float) -> None:
    body = Body(height_m)
    assert body.thigh_m == pytest.approx(THIGH * height_m)
    assert body.shank_m == pytest.approx(SHANK * height_m)
    assert body.upper_arm_m == pytest.approx(UPPER_ARM * height_m)
    assert body.forearm_m == pytest.approx(FOREARM * height_m)
    way = GaitParameters(height_m=height_m)
    for figure in (Runner(way).figure_at(t_s) for t_s in (0.0, 0.13, 0.4, 0.9)):
        for leg in figure.legs.values():
            assert np.linalg.norm(leg.knee - leg.hip) == pytest.approx(THIGH * height_m, rel=1e-6)
            assert np.linalg.norm(leg.ankle - leg.knee) == pytest.approx(SHANK * height_m, rel=1e-6)
        for arm in figure.arms.values():
            # Arms also swing across the body, out of the picture's plane: never longer.
            assert np.linalg.norm(arm.elbow - arm.shoulder) <= UPPER_ARM * height_m * 1.000001
            assert np.linalg.norm(arm.wrist - arm.elbow) <= FOREARM * height_m * 1.000001


def test_two_tables_agree_on_thigh_and_shank() -> None:
    """De Leva 1996, J Biomech 29:1223-1230, men of 1.741 m: thigh 0.2425, shank 0.2493."""
    body = Body(1.741)
    assert body.thigh_m / 1.741 == pytest.approx(0.2425, rel=0.02)
    assert body.shank_m / 1.741 == pytest.approx(0.2493, rel=0.02)
    # From the two tables: shank over thigh is 1.00 to 1.03.
    assert 1.00 <= body.shank_m / body.thigh_m <= 1.03


def tracked(sequence: list[Pose], view: View) -> tuple[float, float]:
    """Return thigh plus shank and shank alone as the leg tracks learn them, metres."""
    tracks = LegTracks()
    for pose in sequence:
        tracks.push(pose.t_s, np.asarray(view.to_bay(pose.xy_px[LEGS]) * view.px_per_m))
    return tracks.leg_px / view.px_per_m, tracks.shank_px / view.px_per_m


# With noise, the running median moves about the true length by up to some of its 0.4 % steps.
@pytest.mark.parametrize(("noise_m", "share"), [(0.0, 0.005), (0.010, 0.02)])
def test_measured_lengths_are_the_simulated_runner_s(noise_m: float, share: float) -> None:
    way = GaitParameters(height_m=1.75)
    view = side_view(way, "right", 300.0)
    exact = poses(Runner(way), view, frame_times(60.0, 4.0))
    leg, shank = tracked(list(add_noise(exact, noise_m, 300.0)), view)
    assert leg == pytest.approx((THIGH + SHANK) * 1.75, rel=share)
    assert shank == pytest.approx(SHANK * 1.75, rel=share)


def test_measured_lengths_of_the_real_runner_are_a_body_s(trial_poses: list[Pose]) -> None:
    """1.81 m tall (the trial's page); a ratio outside 0.85 to 1.15 is a tilted or bad picture."""
    leg, shank = tracked(trial_poses[:600], View(360.0, "right", (640.0, 640.0)))
    assert 0.85 < shank / (leg - shank) < 1.15
    assert leg == pytest.approx((THIGH + SHANK) * 1.81, rel=0.08)
