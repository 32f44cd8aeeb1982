"""A machine that cannot measure every picture: told, and the pictures go on. Time is advanced."""

from __future__ import annotations

import threading

import pytest
from loop_parts import Bench, FakeModel, FakeSource

from station.clock import StreamClock
from station.live import ThreadedFeed, pose_rate
from station.live.faults.board import FaultBoard
from station.live.loop import WAIT_S, dropped_notice
from station.live.pose_rate import CALM_S, PoseRate
from station.settings import read_words
from station.values import Frame


class Camera:
    """Gives pictures at an even rate; of each ten so many are left out."""

    def __init__(self, fps: float = 60.0) -> None:
        self.rate, self.fps, self.count = PoseRate(), fps, 0

    @property
    def now_s(self) -> float:
        return self.count / self.fps

    def run(self, seconds: float, of_ten: int) -> PoseRate:
        for _ in range(round(seconds * self.fps)):
            self.rate.captured(self.now_s, self.count % 10 < of_ten)
            self.count += 1
        return self.rate


def test_one_that_keeps_up_is_told_of_nothing() -> None:
    rate = Camera().run(60.0, 0)
    assert (rate.lowered, rate.pictures_go_on, rate.fault) == (False, False, None)


def test_nothing_is_known_of_the_first_second() -> None:
    camera = Camera()
    assert not camera.run(1.5, 9).lowered
    assert camera.run(1.0, 9).lowered


def test_the_poses_get_fewer_first_and_it_is_said() -> None:
    rate = Camera().run(3.0, 4)
    assert rate.lowered
    assert rate.pictures_go_on  # 36 poses a second are enough to measure
    assert rate.fault is not None
    assert rate.fault.key == "pose_rate_lowered"
    assert not rate.fault.blind
    assert dict(rate.fault.values) == {"poses": "36", "pictures": "60"}


@pytest.mark.parametrize(
    ("fps", "of_ten", "go_on"),
    [(60.0, 7, True), (60.0, 8, False), (30.0, 4, True), (30.0, 6, False)],
)
def test_the_pictures_get_fewer_when_there_are_hardly_poses(
    fps: float, of_ten: int, go_on: bool
) -> None:
    rate = Camera(fps).run(3.0, of_ten)
    assert rate.lowered
    assert rate.pictures_go_on is go_on
    assert rate.fault is not None


def test_it_is_over_after_some_calm_seconds_and_not_before() -> None:
    camera = Camera()
    camera.run(5.0, 5)
    assert camera.run(2.0 + 0.8 * CALM_S, 0).lowered
    assert not camera.run(0.3 * CALM_S, 0).lowered
    assert camera.rate.fault is None
    assert not camera.rate.pictures_go_on


def test_a_little_too_much_neither_begins_nor_ends_it() -> None:
    camera = Camera(100.0)

    def some(seconds: float, every: int) -> PoseRate:
        for _ in range(round(seconds * 100.0)):
            camera.rate.captured(camera.now_s, camera.count % every == 0)
            camera.count += 1
        return camera.rate

    assert not some(20.0, 20).lowered  # 5 %
    assert some(3.0, 5).lowered
    assert some(20.0, 20).lowered


def test_figures_do_not_flicker() -> None:
    camera = Camera()
    camera.run(3.0, 4)
    told = {camera.run(0.1, number % 6).fault for number in range(40)}
    assert len(told) <= 3


def test_a_gap_in_the_pictures_says_nothing() -> None:
    camera = Camera()
    camera.run(3.0, 0)
    camera.count += 6000
    assert not camera.run(1.5, 9).lowered


@pytest.mark.parametrize("language", ["en", "de"])
def test_the_board_says_it_logs_it_and_says_when_it_is_over(language: str) -> None:
    logged: list[tuple[str, str]] = []
    board = FaultBoard(read_words(language), lambda level, what, **_: logged.append((level, what)))
    camera = Camera()
    for of_ten in (0, 4, 4, 0, 0, 0, 0):
        rate = camera.run(3.0, of_ten)
        board.take(() if rate.fault is None else (rate.fault,), camera.now_s)
        if of_ten:
            assert "36" in board.lines[0]
            assert "60" in board.lines[0]
    assert logged == [("warning", "pose_rate_lowered"), ("info", "pose_rate_lowered_over")]
    assert board.lines == ()
    assert len(board.kept) == 1


# --- in the loop --------------------------------------------------------------------------------


def test_pictures_without_a_pose_are_shown_while_the_model_is_busy(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(pose_rate, "LEAST_POSES", 0.0)  # the loop's tests have 10 pictures a second
    begun, shown = threading.Event(), threading.Event()

    def receive(index: int) -> None:
        if index == 2:
            assert begun.wait(5.0)
        if index == 81:
            assert shown.wait(5.0)

    def find(frame: Frame) -> None:
        if frame.index == 1:
            begun.set()
            assert shown.wait(5.0)

    def look() -> None:
        bench.clock.move_to(bench.clock.now_s() + WAIT_S)  # the loop has waited
        if bench.painter.scenes and bench.painter.scenes[-1].frame.index == 80:
            shown.set()

    bench = Bench(source=FakeSource(90, before=receive))
    bench.model = FakeModel(find)
    bench.feed = feed = ThreadedFeed(bench.source, bench.model)
    try:
        bench.run(each_turn=look)
    finally:
        feed.stop()
    drawn = [s.frame.index for s in bench.painter.scenes]
    assert 80 in drawn  # shown while the model was at picture 1
    assert drawn == sorted(drawn)  # the pose of picture 1 does not bring its picture back
    assert bench.meter.pushed[:2] == [0, 1]
    assert [fault.key for fault in feed.faults()] == ["pose_rate_lowered"]
    assert feed.captured == 90
    assert dropped_notice(feed) == ()  # the board says it


def test_a_machine_that_keeps_up_shows_each_picture_with_its_pose() -> None:
    feed = ThreadedFeed(FakeSource(3), FakeModel())
    feed.start(StreamClock())
    try:
        assert feed.picture() is None
        assert feed.faults() == ()
    finally:
        feed.stop()
