"""The pose model's check, with made models."""

from __future__ import annotations

import numpy as np
import pytest

from station.clock import StreamClock
from station.commands.checks.finding import Finding
from station.commands.checks.work import check_model, runner_pictures
from station.values import Frame, Pose


class Model:
    """Takes a set time, and finds points at set places."""

    def __init__(self, clock: StreamClock, each_s: float = 0.01, at: object = (300.0, 200.0)):
        self.clock, self.each_s = clock, each_s
        self.at = at
        self.frames: list[int] = []
        self.anew = 0

    def find(self, frame: Frame) -> Pose:
        self.clock.move_to(self.clock.now_s() + self.each_s)
        self.frames.append(frame.index)
        height, width = frame.image.shape[:2]
        if self.at is None:
            return Pose.nobody(frame.t_s, frame.index, width, height)
        points = np.full((33, 2), self.at)
        return Pose(frame.t_s, frame.index, points, np.ones(33), width, height)

    def detect_anew(self) -> None:
        self.anew += 1

    def close(self) -> None: ...


def work(*models: Model, fps: float = 60.0) -> tuple[Finding, int]:
    heeded: list[int] = []
    (finding,) = check_model(
        models, 1.5, fps, models[0].clock, 1.0, lambda _: None, lambda: heeded.append(1)
    )
    return finding, len(heeded)


@pytest.mark.parametrize(
    ("each_s", "verdict", "words"),
    [
        (0.010, "well", "10 ms a picture, 60 % of the time between two at 60 a second"),
        (0.015, "look", "little is left"),
        (0.025, "look", "too slow"),
        (0.080, "look", "too slow"),
    ],
)
def test_the_time_of_a_picture_is_held_against_the_rate(
    each_s: float, verdict: str, words: str
) -> None:
    finding, heeded = work(Model(StreamClock(), each_s))
    assert (finding.verdict, finding.exit_code) == (verdict, 0)
    assert words in finding.found
    assert heeded >= round(1.0 / each_s) - 1  # the speaker is looked after at every picture
    if each_s >= 0.04:
        assert "faster computer" in finding.remedy
    elif verdict == "look":
        assert f"fps in [camera] to {0.8 / each_s:.0f}" in finding.remedy


def test_two_models_work_at_once_and_share_the_time() -> None:
    clock = StreamClock()
    finding, _ = work(Model(clock, 0.02), Model(clock, 0.0))
    assert "10 ms a picture" in finding.found


def test_the_runner_is_shown_there_and_back_without_a_jump() -> None:
    model = Model(StreamClock())
    work(model)
    steps = np.abs(np.diff(model.frames))
    assert (steps == 1).all()


def test_a_model_that_finds_no_runner_is_told() -> None:
    finding, _ = work(Model(StreamClock(), at=None))
    assert finding.verdict == "look"
    assert "found in 0 of" in finding.found


def test_the_pictures_are_of_a_runner() -> None:
    frames = runner_pictures(3)
    assert [frame.index for frame in frames] == [0, 1, 2]
    assert (frames[0].image != frames[2].image).any()
