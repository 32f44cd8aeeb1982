import numpy as np
import pytest

from station.simulate.gait import Runner
from station.simulate.parameters import Body, GaitParameters
from station.simulate.picture import demo_view
from station.simulate.staging import StagedRunner, standing

VIEW = demo_view(1280, 720, "right")


def staged() -> StagedRunner:
    return StagedRunner(lambda: Runner(GaitParameters(seed=3)))


def test_away_is_out_of_the_picture() -> None:
    xy = staged().figure_at(0.0).to_pose(VIEW, 0, 1280, 720).xy_px
    x = xy[np.isfinite(xy[:, 0]), 0]
    assert ((x < 0) | (x > 1280)).all()


def test_standing_feet_are_flat_on_the_belt_and_limbs_have_their_length() -> None:
    body = Body(1.8)
    figure = standing(body, 0.0)
    for leg in figure.legs.values():
        for point in (leg.sole_heel, leg.sole_ball, leg.sole_toe):
            assert point[1] == pytest.approx(0.0, abs=1e-9)
        assert np.hypot(*(leg.knee - leg.hip)) == pytest.approx(body.thigh_m)
        assert np.hypot(*(leg.ankle - leg.knee)) == pytest.approx(body.shank_m)
        assert leg.knee[0] > min(leg.hip[0], leg.ankle[0])  # bent ahead, if at all


def test_the_truth_of_a_staged_run_is_the_runners_own_moved_in_time() -> None:
    runner, plain = staged(), Runner(GaitParameters(seed=3))
    for i in range(301):
        if i == 60:
            runner.act("run")
        runner.figure_at(i / 60)
        if i >= 60:
            plain.figure_at((i - 60) / 60)
    truth = runner.truth()
    assert len(truth) == len(plain.truth()) > 5
    for one, own in zip(truth, plain.truth(), strict=True):
        assert one.t_contact_s == pytest.approx(own.t_contact_s + 1.0)
        assert one.shank_deg == own.shank_deg


def test_a_drift_moves_the_whole_body_at_its_speed() -> None:
    runner, plain = staged(), staged()
    runner.act("run")
    plain.act("run")
    for i in range(181):
        if i == 61:
            runner.drift(-0.5)
        one, own = runner.figure_at(i / 60), plain.figure_at(i / 60)
    for side in ("left", "right"):
        by = one.legs[side].ankle - own.legs[side].ankle
        assert by == pytest.approx([-1.0, 0.0], abs=1e-9)
    assert one.belt_travel_m == own.belt_travel_m
    assert runner.place_m == pytest.approx(-1.0)


def test_a_raised_arm_keeps_its_length() -> None:
    runner = staged()
    runner.act("run")
    runner.figure_at(0.0)
    runner.raise_hand("left")
    figure = runner.figure_at(1.0)
    arm, body = figure.arms["left"], Body()
    assert arm.wrist[1] > figure.head[1] + 0.2
    assert np.hypot(*(arm.elbow - arm.shoulder)) == pytest.approx(body.upper_arm_m, rel=0.02)
    assert np.hypot(*(arm.wrist - arm.elbow)) == pytest.approx(body.forearm_m, rel=0.02)
