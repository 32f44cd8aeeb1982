"""The set-up's loop with made devices: wishes are done, pictures go in, pages come out."""

from __future__ import annotations

from collections import deque

import numpy as np
import pytest

from station.clock import StreamClock
from station.coach.setup.course import NEXT, SKIP, SetupCourse
from station.coach.setup.page import SetupPage, StepName
from station.coach.setup.values import (
    Camera,
    Chosen,
    Done,
    Draft,
    Failed,
    Folder,
    Heard,
    Opened,
    Saved,
    Told,
)
from station.errors import DeviceTrouble
from station.live.feed import Seen
from station.live.pose_threads import POSES_WAITING
from station.live.setup.loop import CLOSED, SetupLoop
from station.live.stopping import StopWish
from station.ports import EndOfStream
from station.values import Bay, Frame, Pose

OPENED = Opened("One", 160, 90, 30.0, True, 0.004, locked=True)


class Pictures:
    """A feed that gives pictures until something is to happen."""

    def __init__(self, clock: StreamClock, trouble: Exception | None = None, count: int = 10**6):
        self.clock, self.trouble, self.count = clock, trouble, count
        self.index = 0
        self.anew = 0

    def next(self, timeout_s: float) -> Seen | None:
        if self.index >= self.count:
            raise self.trouble or EndOfStream()
        frame = Frame(self.index / 30.0, self.index, np.full((90, 160, 3), 100, np.uint8))
        self.index += 1
        self.clock.move_to(self.clock.now_s() + 1.0 / 30.0)
        return Seen(frame, Pose.nobody(frame.t_s, frame.index, 160, 90))

    def waiting(self) -> Seen | None:
        return None

    def detect_anew(self) -> None:
        self.anew += 1


class Devices:
    def __init__(self, clock: StreamClock) -> None:
        self.clock = clock
        self.feed = Pictures(clock)
        self.opened: list[int | str] = []
        self.refuses: str | None = None
        self.steps: list[str] = []
        self.closed = 0
        self.came: deque[Told] = deque()
        self.saved: Draft | None = None
        self.listens = False
        self.came_sounds: tuple[float, ...] | Failed | None = None

    def open(self, device: int | str, exposure_s: float | None, draft: Draft):
        self.opened.append(device)
        if self.refuses:
            raise DeviceTrouble(self.refuses)
        return self.feed, OPENED

    def set_up(self, step: str) -> None:
        self.steps.append(step)

    def close(self) -> None:
        self.closed += 1

    def measure_sound(self, volume: float, draft: Draft) -> None:
        self.came.append(Heard("made", 0.1, 0.0, 20.0))

    def heard(self) -> Told | None:
        return self.came.popleft() if self.came else None

    def listen(self) -> None:
        self.listens = True

    def sounds(self) -> tuple[float, ...] | Failed | None:
        return self.came_sounds

    def look_at_folder(self, path: str | None) -> Told:
        return Folder(path or "own", 10**10, None)

    def save(self, draft: Draft) -> Told:
        self.saved = draft
        return Saved("bay.toml", None)


class Screen:
    def __init__(self) -> None:
        self.queue: deque[Done] = deque()
        self.closed = False
        self.share = 1.0
        self.pages: list[SetupPage] = []

    def inputs(self) -> tuple[Done, ...]:
        given = tuple(self.queue)
        self.queue.clear()
        return given

    def show(self, page: SetupPage, picture: np.ndarray | None) -> None:
        self.pages.append(page)


class Bench:
    def __init__(self, only: StepName | None = None) -> None:
        self.clock = StreamClock()
        self.devices, self.screen = Devices(self.clock), Screen()
        self.course = SetupCourse(Bay(), (Camera("/dev/video0", "One"),), only)
        self.loop = SetupLoop(self.course, self.screen, self.devices, self.clock)

    def begin(self) -> Bench:
        self.loop._do(self.course.begin())
        return self

    def do(self, *done: Done, turns: int = 2) -> None:
        self.screen.queue.extend(done)
        for _ in range(turns):
            self.loop.turn()

    def told(self) -> list[str]:
        return [reading.key for reading in self.course.page().body.readings]


def test_from_start_to_saved() -> None:
    bench = Bench()

    def hurry(page: SetupPage, picture: np.ndarray | None) -> None:
        bench.screen.pages.append(page)
        bench.screen.queue.append(Chosen(NEXT))

    bench.screen.show = hurry  # type: ignore[method-assign]
    assert bench.loop.run(StopWish()) is None
    assert bench.devices.opened[0] == "/dev/video0"
    assert bench.devices.saved is not None
    assert bench.devices.saved.touched >= {"camera.device", "camera.exposure_ms"}
    assert bench.course.saved == Saved("bay.toml", None)
    assert bench.devices.steps[0] == "camera"
    assert bench.devices.steps[-1] == "save"
    assert bench.devices.closed >= 1


def test_a_camera_that_does_not_open_is_said_and_can_be_tried_again() -> None:
    bench = Bench()
    bench.devices.refuses = "camera /dev/video0 is busy"
    bench.begin()
    assert bench.told() == ["setup_camera_trouble"]
    bench.devices.refuses = None
    bench.do(Chosen("camera:0"), turns=4)
    assert bench.told()[0] == "setup_camera_moves"


@pytest.mark.parametrize(
    ("trouble", "word"), [(DeviceTrouble("camera was lost"), "lost"), (EndOfStream(), "ended")]
)
def test_a_camera_that_goes_leaves_a_page_that_says_so(trouble: Exception, word: str) -> None:
    bench = Bench("rate")
    bench.course.told(OPENED)
    bench.devices.feed = Pictures(bench.clock, trouble, 3)
    bench.loop._feed = bench.devices.feed  # type: ignore[assignment]
    bench.do(turns=6)
    assert bench.told() == ["setup_camera_trouble"]
    assert word in dict(bench.course.page().body.readings[0].values)["why"]
    assert bench.course.draft.camera is None


def test_sound_is_measured_beside_the_pictures() -> None:
    bench = Bench("sound").begin()
    bench.do(Chosen("play"), turns=1)
    bench.do()
    assert "setup_sound_in_time" in bench.told()


def test_light_is_looked_at_now_and_then_only_in_its_own_step() -> None:
    bench = Bench().begin()
    bench.do(Chosen(SKIP), turns=14)
    assert bench.course.step.name == "light"
    assert "setup_light_good" in bench.told()


def test_a_closed_window_and_a_stop_end_it_with_the_camera_closed() -> None:
    bench = Bench()
    bench.screen.closed = True
    assert bench.loop.run(StopWish()) == CLOSED
    stop = StopWish()
    stop.wish("told to stop")
    bench = Bench()
    assert bench.loop.run(stop) == "told to stop"
    assert bench.devices.closed >= 1
    assert bench.devices.saved is None


def test_a_screen_is_not_painted_for_every_picture() -> None:
    bench = Bench("rate")
    bench.course.told(OPENED)
    bench.loop._feed = bench.devices.feed  # type: ignore[assignment]
    bench.do(turns=30)
    assert len(bench.screen.pages) <= 22


def test_a_step_that_is_slower_than_its_pictures_come_still_gets_to_the_window() -> None:
    """While one picture is looked at the next has come already: there is always one waiting."""
    bench = Bench("level")
    bench.course.told(OPENED)
    feed = bench.devices.feed
    feed.count = 1000
    feed.waiting = lambda: feed.next(0.0)  # type: ignore[method-assign]
    bench.loop._feed = feed  # type: ignore[assignment]
    bench.do(turns=1)
    assert 1 < feed.index <= POSES_WAITING + 1
    assert bench.course.draft.camera is not None


@pytest.mark.parametrize(
    ("sounds", "word"),
    [(Failed("clap", "no sound input"), "no sound input"), ((0.4, 0.9), "no clap was seen")],
)
def test_claps_that_are_not_found_say_why(sounds: tuple[float, ...] | Failed, word: str) -> None:
    bench = Bench("clap")
    bench.course.told(OPENED)
    bench.loop._feed = bench.devices.feed  # type: ignore[assignment]
    bench.do(Chosen("listen"), turns=10)
    assert bench.devices.listens
    assert bench.told() == ["setup_clap_listening"]
    bench.devices.came_sounds = sounds
    bench.do(turns=1)
    (trouble, _) = bench.course.page().body.readings
    assert word in dict(trouble.values)["why"]
