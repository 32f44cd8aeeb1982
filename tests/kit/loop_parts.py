"""A lock-step session made of made-up parts: source, model, meter, painter, window."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from station.clock import StreamClock
from station.coach.plan import Drill, Plan, StepRate
from station.coach.progress import SessionProgress
from station.coach.scene import Rhythm, Scene
from station.live import (
    Coaching,
    Ending,
    Feed,
    LockStepFeed,
    Screen,
    Session,
    StopWish,
    run_loop,
)
from station.ports import EndOfStream, SourceInfo
from station.show.layout import Box
from station.sound.speaker_silent import StreamSpeaker
from station.values import (
    Belt,
    Frame,
    Heard,
    Landing,
    Observation,
    Pose,
    Side,
    Step,
    StepRecord,
    View,
)

FPS = 10.0
IMAGE = np.zeros((64, 64, 3), np.uint8)
VIEW = View(300.0, "right", (32.0, 60.0))
DRILL = Drill("Beat", belt_speed_mps=2.7, step_rate=StepRate(spm=150.0), seconds=1000.0)


class FakeSource:
    """Gives frames at 10 a second; `then` is what comes after the last one."""

    def __init__(
        self, count: int, then: Exception | None = None, before: Callable[[int], None] | None = None
    ) -> None:
        self.count, self.then = count, then or EndOfStream()
        self.heard: list[Heard] = []
        self.stopped = 0
        self.index = 0
        self.before = before
        self.skip: set[int] = set()

    def start(self, clock: object, paced: bool) -> SourceInfo:
        return SourceInfo("fake", 64, 64, FPS, live=False, frames=self.count)

    def receive(self, timeout_s: float) -> Frame | None:
        if self.before is not None:
            self.before(self.index)
        while self.index in self.skip:
            self.index += 1
        if self.index >= self.count:
            raise self.then
        self.index += 1
        return Frame((self.index - 1) / FPS, self.index - 1, IMAGE)

    def hear(self, event: Heard) -> None:
        self.heard.append(event)

    def stop(self) -> None:
        self.stopped += 1


class FakeModel:
    def __init__(self, before: Callable[[Frame], None] | None = None) -> None:
        self.found: list[int] = []
        self.anew = 0
        self.closed = 0
        self.before = before

    def find(self, frame: Frame) -> Pose:
        if self.before is not None:
            self.before(frame)
        self.found.append(frame.index)
        return Pose(frame.t_s, frame.index, np.full((33, 2), 5.0), np.ones(33), 64, 64)

    def detect_anew(self) -> None:
        self.anew += 1

    def close(self) -> None:
        self.closed += 1


def landing(number: int, t_s: float, shank_deg: float | None, side: Side = "left") -> Landing:
    return Landing(
        number, side, side == VIEW.near_side, t_s, t_s + 0.05, shank_deg, 0.5, 0.1, 5.0, "rearfoot",
        0.4, 0.9,
        (30.0, 30.0), (34.0, 50.0), (32.0, 60.0), (40.0, 60.0),
    )  # fmt: skip


@dataclass
class FakeMeter:
    """Tells a landing at every fourth frame (one each 0.4 s), and its step two frames later."""

    shank_deg: float | None = 12.0
    trouble: str | None = None
    in_view: bool = True
    anew: bool = False
    belt_mps: float | None = None
    """What the belt is seen to run at, all the time."""

    def __post_init__(self) -> None:
        self.belts: list[Belt] = []
        self.being_set = False
        self.pushed: list[int] = []
        self.open: list[Landing] = []
        self.number = 0

    def push(self, pose: Pose) -> Observation:
        self.pushed.append(pose.index)
        landings: tuple[Landing, ...] = ()
        steps: tuple[Step, ...] = ()
        if pose.index % 4 == 1:
            self.number += 1
            side: Side = "left" if self.number % 2 else "right"
            landings = (landing(self.number, pose.t_s - 0.1, self.shank_deg, side),)
            self.open += landings
        elif pose.index % 4 == 3:
            steps = self._close()
        return Observation(
            pose.t_s, pose, self.in_view, self.trouble, landings, steps, 150.0, VIEW,
            detect_anew=self.anew, belt_mps=self.belt_mps,
        )  # fmt: skip

    def _close(self) -> tuple[Step, ...]:
        done, self.open = self.open, []
        return tuple(
            Step(one.number, one.side, one.near, one.t_contact_s, one.t_verdict_s) for one in done
        )

    def set_belt(self, belt: Belt) -> None:
        self.belts.append(belt)

    def belt_is_being_set(self, on: bool) -> None:
        self.being_set = on

    def finish(self) -> Observation:
        pose = Pose.nobody(0.0, 0, 64, 64)
        return Observation(0.0, pose, False, None, (), self._close())


class Rows:
    def __init__(self) -> None:
        self.rows: list[StepRecord] = []

    def write(self, record: StepRecord) -> None:
        self.rows.append(record)


class FakePainter:
    def __init__(self) -> None:
        self.scenes: list[Scene] = []
        self.pulses: list[Rhythm] = []

    def paint(self, scene: Scene) -> np.ndarray:
        self.scenes.append(scene)
        return IMAGE

    def pulse(self, rhythm: Rhythm) -> tuple[np.ndarray, Box]:
        self.pulses.append(rhythm)
        return IMAGE, Box(1, 2, 3, 4)


@dataclass(frozen=True)
class Pressed:
    command: str


class FakeWindow:
    """Shows nothing; gives the keys planned for after so many pictures."""

    def __init__(self, keys: dict[int, Sequence[str]] | None = None) -> None:
        self.keys = dict(keys or {})
        self.shown = 0
        self.parts = 0
        self.closed = 0

    def show(self, image: np.ndarray) -> None:
        self.shown += 1

    def show_part(self, image: np.ndarray, box: Box) -> None:
        self.parts += 1

    def events(self) -> tuple[Pressed, ...]:
        return tuple(Pressed(key) for key in self.keys.pop(self.shown, ()))

    def close(self) -> None:
        self.closed += 1


class Bench:
    """All parts of a lock-step session."""

    def __init__(
        self,
        count: int = 40,
        drills: Sequence[Drill] = (DRILL,),
        meter: FakeMeter | None = None,
        source: FakeSource | None = None,
        keys: dict[int, Sequence[str]] | None = None,
        countdown_s: float = 0.0,
    ) -> None:
        self.clock = StreamClock()
        self.source = source or FakeSource(count)
        self.model = FakeModel()
        self.meter = meter or FakeMeter()
        self.rows = Rows()
        self.painter, self.window = FakePainter(), FakeWindow(keys)
        self.screen = Screen(self.painter, self.window)
        self.speaker = StreamSpeaker()
        self.speaker.start(self.clock)
        self.progress = SessionProgress(Plan("Test", tuple(drills)), countdown_s)
        self.coaching = Coaching(
            self.progress, self.speaker, self.meter.set_belt, far_leg_error_deg=0.0
        )
        self.session = Session(
            self.meter, self.coaching, self.speaker, self.clock, self.rows, self.source, True
        )
        self.stop = StopWish()
        self.feed: Feed = LockStepFeed(self.source, self.model, self.clock)

    def run(self, **wishes: Any) -> Ending:
        self.feed.start(self.clock)
        ending = run_loop(self.feed, self.session, self.clock, self.stop, self.screen, **wishes)
        self.session.finish()
        return ending
