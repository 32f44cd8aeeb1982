import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.coach.visit.raised_hand import RaisedHand
from station.simulate.gait import Runner
from station.simulate.parameters import GaitParameters
from station.simulate.picture import demo_view
from station.simulate.staging import StagedRunner
from station.values import Pose

VIEW = demo_view(1280, 720, "right")


def staged(**gait: float) -> StagedRunner:
    runner = StagedRunner(lambda: Runner(GaitParameters(**gait)))  # type: ignore[arg-type]
    runner.act("run")
    return runner


def pose(runner: StagedRunner, i: int, fps: float = 30.0) -> Pose:
    return runner.figure_at(i / fps).to_pose(VIEW, i, 1280, 720)


@pytest.mark.parametrize("side", ["left", "right"])
def test_a_hand_is_seen_after_a_second_up(side) -> None:
    runner, hand = staged(), RaisedHand()
    told = []
    for i in range(300):
        if i == 60:
            runner.raise_hand(side)
        if i == 180:
            runner.raise_hand(None)
        if hand.take(pose(runner, i)):
            told.append(i / 30.0)
    assert len(told) == 1
    assert 1.0 <= told[0] - 2.0 <= 1.5


def test_the_second_time_is_a_second_sign() -> None:
    runner, hand = staged(), RaisedHand()
    ups = {60: "left", 120: None, 240: "right", 300: None}
    told = 0
    for i in range(400):
        if i in ups:
            runner.raise_hand(ups[i])  # type: ignore[arg-type]
        told += hand.take(pose(runner, i))
    assert told == 2


def test_a_hand_lost_in_every_third_frame_is_seen_a_little_later() -> None:
    runner, hand = staged(), RaisedHand()
    for i in range(300):
        if i == 60:
            runner.raise_hand("left")
        at = pose(runner, i)
        if i % 3 == 0:
            at.xy_px[15] = at.xy_px[16] = np.nan
        if hand.take(at):
            assert i / 30.0 - 2.0 < 2.6
            return
    pytest.fail("never seen")


@given(
    belt_mps=st.floats(2.2, 5.0), rate_spm=st.floats(155, 195), seed=st.integers(0, 99)
)  # fmt: skip
@settings(max_examples=4, deadline=None)
def test_running_arms_are_no_sign(belt_mps: float, rate_spm: float, seed: int) -> None:
    runner, hand = staged(belt_mps=belt_mps, rate_spm=rate_spm, seed=seed), RaisedHand()
    assert not any(hand.take(pose(runner, i)) for i in range(450))


def test_nobody_raises_nothing() -> None:
    hand = RaisedHand()
    assert not any(hand.take(Pose.nobody(i / 30, i, 1280, 720)) for i in range(90))
