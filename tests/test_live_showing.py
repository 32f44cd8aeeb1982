"""What is drawn when: a session's screen beside a beat, time moved by hand."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from loop_parts import IMAGE, FakePainter, FakeWindow

from station.clock import StreamClock
from station.live import Screen
from station.live.beats import BeatLog
from station.live.feed import Seen
from station.live.showing import EVEN_S, STALE_S, Showing
from station.values import Frame, Heard

DRAW_S, PULSE_S, PERIOD_S = 0.012, 0.001, 0.4


class SlowWindow(FakeWindow):
    """Takes its time, as a display does, and notes when what was seen."""

    def __init__(self, clock: StreamClock) -> None:
        super().__init__()
        self.clock = clock
        self.seen: list[tuple[str, float]] = []

    def show(self, image: np.ndarray) -> None:
        self._take("picture", DRAW_S)

    def show_part(self, image: np.ndarray, box: object) -> None:
        self._take("pulse", PULSE_S)

    def _take(self, what: str, seconds: float) -> None:
        self.clock.move_to(self.clock.now_s() + seconds)
        self.seen.append((what, self.clock.now_s()))


class Film:
    """Notes at which times a recording has its pictures."""

    span_s = None

    def __init__(self) -> None:
        self.times_s: list[float] = []

    def write(self, t_s: float, image: np.ndarray) -> None:
        self.times_s.append(t_s)

    def close(self) -> None:
        pass


class FakeSession:
    def __init__(self, clock: StreamClock) -> None:
        self.clock, self.beats = clock, BeatLog()
        self.frames: list[int] = []
        self.stand_for_s: list[float] = []

    def scene(self, frame: Frame, notices: tuple[str, ...], ahead_s: float) -> Any:
        self.stand_for_s.append(self.clock.now_s() + ahead_s)
        self.frames.append(frame.index)
        return SimpleNamespace(t_s=self.clock.now_s(), landings=())

    def rhythm(self, ahead_s: float) -> Any:
        self.stand_for_s.append(self.clock.now_s() + ahead_s)
        return SimpleNamespace()


class Stage:
    def __init__(self, *beats_s: float) -> None:
        self.clock = StreamClock()
        self.window = SlowWindow(self.clock)
        self.session = FakeSession(self.clock)
        self.session.beats.add(Heard("beat", t_s, None, PERIOD_S) for t_s in beats_s)
        self.film = Film()
        screen = Screen(FakePainter(), self.window, lambda fps: self.film)
        screen.record(60.0)
        self.showing = Showing(screen, self.session, self.clock)  # type: ignore[arg-type]
        self.index = 0

    def picture(self) -> None:
        frame = Frame(self.clock.now_s(), self.index, IMAGE)
        self.index += 1
        pose = SimpleNamespace(t_s=frame.t_s)
        self.showing.take(Seen(frame, pose))  # type: ignore[arg-type]

    def run(self, until_s: float, every_s: float, work_s: float = 0.003) -> None:
        """A picture comes every so often and is worked out; else the loop waits as it is told."""
        next_s = self.clock.now_s()
        while self.clock.now_s() < until_s:
            now_s = self.clock.now_s()
            if now_s >= next_s:
                next_s = max(next_s + every_s, now_s)
                self.clock.move_to(now_s + work_s)
                self.picture()
            else:
                self.clock.move_to(min(next_s, now_s + max(self.showing.wait_s(0.02), 1e-4)))
            self.showing.turn(tuple)

    def seen(self, what: str) -> list[float]:
        return [t_s for kind, t_s in self.window.seen if kind == what]


@pytest.mark.parametrize("fps", [10.0, 30.0, 60.0])
def test_every_pulse_is_seen_within_8_ms_of_its_beat(fps: float) -> None:
    beats = [0.4 + PERIOD_S * k for k in range(12)]
    stage = Stage(*beats)
    stage.run(5.0, 1.0 / fps)
    pulses = np.array(stage.seen("pulse"))
    for beat_s in beats[1:]:  # the first pulse of all is drawn before it is known what it takes
        assert np.abs(pulses - beat_s).min() < 0.008
    assert len(stage.seen("picture")) > 0.75 * 5.0 * min(fps, 1.0 / (DRAW_S + 0.003))


def test_a_filmed_pulse_stands_at_the_time_that_it_was_painted_for() -> None:
    stage = Stage(0.4, 0.8)
    stage.run(0.7, 1 / 30)
    stage.session.stand_for_s.clear()
    stage.film.times_s.clear()
    stage.clock.move_to(0.795)
    stage.showing.turn(tuple)
    assert [kind for kind, _ in stage.window.seen[-1:]] == ["pulse"]
    assert stage.film.times_s == stage.session.stand_for_s
    assert stage.film.times_s == [pytest.approx(0.8, abs=0.001)]


def test_a_pulse_that_measuring_a_pose_would_make_late_is_drawn_first() -> None:
    """Finishing a step takes 10 ms: the pose that came 3 ms before the pulse waits for it."""
    stage = Stage(0.4, 0.8, 1.2)
    stage.run(0.78, 1 / 60)
    stage.window.seen.clear()
    stage.clock.move_to(0.8 - 0.003 - PULSE_S)
    stage.showing.before_taking()
    assert [kind for kind, _ in stage.window.seen] == ["pulse"]
    assert stage.clock.now_s() == pytest.approx(0.8, abs=0.005)
    stage.clock.move_to(0.9)
    stage.showing.before_taking()
    assert len(stage.window.seen) == 1  # no beat is near


def test_a_held_picture_is_drawn_right_after_the_pulse() -> None:
    stage = Stage(1.0)
    for _ in range(3):
        stage.picture()
        stage.showing.turn(tuple)
    stage.clock.move_to(0.99)
    stage.showing.turn(tuple)
    stage.window.seen.clear()
    stage.picture()
    stage.showing.turn(tuple)
    assert stage.window.seen == []
    stage.clock.move_to(stage.clock.now_s() + stage.showing.wait_s(0.02))
    stage.showing.turn(tuple)
    assert [kind for kind, _ in stage.window.seen] == ["pulse", "picture"]
    assert stage.clock.now_s() < 1.0 + PULSE_S + DRAW_S


def test_no_picture_is_drawn_twice_unless_none_comes_for_long() -> None:
    stage = Stage()
    stage.picture()
    for _ in range(3):
        stage.showing.turn(tuple)
    assert len(stage.seen("picture")) == 1
    stage.clock.move_to(STALE_S + 0.01)
    stage.showing.turn(tuple)
    stage.showing.turn(tuple)
    assert len(stage.seen("picture")) == 2


def test_before_the_first_picture_nothing_is_drawn() -> None:
    stage = Stage(0.01)
    stage.clock.move_to(0.02)
    stage.showing.turn(tuple)
    assert stage.window.seen == []


def test_a_newer_picture_is_shown_without_its_pose_and_the_older_ones_never_come_back() -> None:
    class Behind:
        """A feed whose poses come two pictures late."""

        next: Frame | None = None

        def picture(self) -> Frame | None:
            picture, self.next = self.next, None
            return picture

    feed, stage = Behind(), Stage()

    def frame(index: int) -> Frame:
        return Frame(index / 30.0, index, IMAGE)

    def pose_of(index: int) -> None:
        pose = SimpleNamespace(t_s=index / 30.0)
        stage.showing.take(Seen(frame(index), pose))  # type: ignore[arg-type]

    def turn(after_s: float = EVEN_S) -> None:
        stage.clock.move_to(stage.clock.now_s() + after_s)
        stage.showing.freshen(feed)  # type: ignore[arg-type]
        stage.showing.turn(tuple)

    feed.next = frame(0)  # there is nothing measured to go with it
    turn()
    pose_of(1)
    turn()
    for index in (2, 3):
        feed.next = frame(index)
        turn()
    pose_of(2)
    turn()
    feed.next = frame(1)
    turn()
    pose_of(3)
    pose_of(4)
    turn()
    feed.next = frame(5)
    turn(0.5 * (EVEN_S - DRAW_S))  # the one before has hardly been seen
    assert stage.session.frames == [1, 2, 3, 4]
    turn(0.6 * (EVEN_S - DRAW_S))
    assert stage.session.frames == [1, 2, 3, 4, 5]
