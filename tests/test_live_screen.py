"""The screen: one painting, two places; and what keys ask for."""

from __future__ import annotations

import numpy as np
import pytest

from station.coach.scene import LandingMark, Rhythm, Scene
from station.errors import StationError
from station.live.screen import Screen
from station.show.layout import Box

IMAGE = np.zeros((4, 4, 3), np.uint8)
BOX = Box(1, 0, 2, 3)


class Painter:
    def __init__(self) -> None:
        self.painted = 0

    def paint(self, scene: Scene) -> np.ndarray:
        self.painted += 1
        return IMAGE

    def pulse(self, rhythm: Rhythm) -> tuple[np.ndarray, Box] | None:
        return None if rhythm.beat_age_s is None else (IMAGE, BOX)


class Takes:
    """A window or a recorder."""

    def __init__(self, fails: bool = False) -> None:
        self.got: list[object] = []
        self.closed = 0
        self.fails = fails

    def show(self, image: np.ndarray) -> None:
        self.got.append(image)

    def show_part(self, image: np.ndarray, box: Box) -> None:
        self.got.append(box)

    def write(self, t_s: float, image: np.ndarray) -> None:
        self.got.append((t_s, image))

    @property
    def span_s(self) -> tuple[float, float] | None:
        return (self.got[0][0], self.got[-1][0] + 0.1) if self.got else None  # type: ignore[index]

    def events(self) -> tuple[()]:
        return ()

    def close(self) -> None:
        self.closed += 1
        if self.fails:
            raise OSError("full")


def test_one_painting_goes_to_window_and_recorder() -> None:
    painter, window, video, rates = Painter(), Takes(), Takes(), []

    def make(fps: float) -> Takes:
        rates.append(fps)
        return video

    screen = Screen(painter, window, make)
    screen.draw(Scene(0.0, "drill", None), 0.0)  # the recorder is not wanted yet
    screen.record(30.0)
    screen.record(30.0)
    screen.draw(Scene(1.0, "drill", None), 0.9)
    assert painter.painted == screen.drawn == 2
    assert rates == [30.0]
    assert len(window.got) == 2
    assert video.got == [(1.0, IMAGE)]  # when it was shown, not when the camera saw it
    assert screen.recorded_s == (1.0, 1.1)
    screen.close()
    assert (window.closed, video.closed) == (1, 1)


def test_a_pulse_alone_goes_to_the_window_as_a_part_and_to_the_recorder_whole() -> None:
    painter, window, video = Painter(), Takes(), Takes()
    screen = Screen(painter, window, lambda fps: video)
    screen.record(30.0)
    screen.draw(Scene(1.0, "drill", None), 0.9)
    screen.pulse(Rhythm(170.0, 174.0, 0.0, 0.345, 0.0), 1.02)
    screen.pulse(Rhythm(170.0, 174.0, None, None, 0.0), 1.04)  # no beat in the picture
    assert painter.painted == screen.drawn == 1
    assert window.got[1:] == [BOX]
    assert [t_s for t_s, _ in video.got] == [1.0, 1.02]  # type: ignore[misc]


def test_recorded_pictures_keep_the_pace_of_their_frames() -> None:
    """Frames come every 0.1 s, and are shown 30 to 70 ms later: their mean lag is what counts."""
    video = Takes()
    screen = Screen(Painter(), None, lambda fps: video)
    assert screen.recorded_s is None
    screen.record(10.0)
    assert screen.recorded_s is None
    lags_s = [0.5, *np.random.default_rng(1).uniform(0.03, 0.07, 200)]  # the first is far off
    for i, lag_s in enumerate(lags_s):
        screen.draw(Scene(0.1 * i + lag_s, "drill", None), 0.1 * i)
    times_s = np.array([t_s for t_s, _ in video.got])  # type: ignore[misc]
    assert times_s[0] == 0.5
    late_s = times_s[100:] - 0.1 * np.arange(201)[100:]
    np.testing.assert_allclose(late_s, 0.05, atol=0.01)
    np.testing.assert_allclose(np.diff(times_s[100:]), 0.1, atol=0.002)
    assert (np.diff(times_s) > 0.0).all()


def test_a_scene_without_lag_is_told_to_the_last_digit() -> None:
    """Stream time: the clock stands at the frame's own time."""
    video = Takes()
    screen = Screen(Painter(), None, lambda fps: video)
    screen.record(30.0)
    for i in range(100):
        screen.draw(Scene(i / 30, "drill", None), i / 30)
    assert [t_s for t_s, _ in video.got] == [i / 30 for i in range(100)]  # type: ignore[misc]


def test_the_window_is_closed_even_when_the_recorder_fails() -> None:
    window, video = Takes(), Takes(fails=True)
    screen = Screen(Painter(), window, lambda fps: video)
    screen.record(30.0)
    with pytest.raises(OSError, match="full"):
        screen.close()
    assert window.closed == 1


def test_without_a_window_nobody_asks_for_anything() -> None:
    screen = Screen(Painter())
    assert screen.asked() == ()
    screen.record(30.0)
    screen.close()


def test_the_still_is_the_first_picture_of_the_last_fresh_landing_that_was_judged() -> None:
    class Numbered(Painter):
        def paint(self, scene: Scene) -> np.ndarray:
            super().paint(scene)
            return np.full((4, 4, 3), self.painted, np.uint8)

    def scene(age_s: float) -> Scene:
        at = (0.0, 0.0)
        mark = LandingMark("left", "ahead", age_s, at, at, at, at, at, at, at, 9.0)
        return Scene(0.0, "drill", None, landings=(mark,))

    stills: list[np.ndarray] = []
    screen = Screen(Numbered(), None, lambda fps: Takes(), stills.append)
    screen.record(30.0)
    for age_s in (0.01, 0.03, 0.3, 0.02, 0.04, 0.06, 0.3):
        screen.draw(scene(age_s), 0.0)
    screen.draw(Scene(0.0, "done", None), 0.0)
    screen.close()
    assert [int(still[0, 0, 0]) for still in stills] == [4]


class FullDisk(Takes):
    """A recorder whose disk is full from the third picture on."""

    def write(self, t_s: float, image: np.ndarray) -> None:
        if len(self.got) >= 2:
            raise StationError("the clip cannot be written (no space)")
        super().write(t_s, image)

    def close(self) -> None:
        self.closed += 1
        if len(self.got) >= 2:
            raise StationError("the clip cannot be written (no space)")


def test_a_film_that_cannot_be_written_ends_and_the_session_goes_on() -> None:
    video, window = FullDisk(), Takes()
    screen = Screen(Painter(), window, lambda _: video)
    screen.record(30.0)
    for number in range(6):
        screen.draw(Scene(0.1 * number, "drill", None), 0.1 * number)
    assert len(window.got) == 6
    assert len(video.got) == 2
    assert [fault.key for fault in screen.faults()] == ["film_stopped"]
    with pytest.raises(StationError, match="no space"):
        screen.close()
    assert video.closed == 1
    assert window.closed == 1


def test_a_film_is_closed_while_there_is_room_for_its_end() -> None:
    video = Takes()
    screen = Screen(Painter(), None, lambda _: video)
    screen.record(30.0)
    screen.draw(Scene(0.0, "drill", None), 0.0)
    assert screen.faults() == ()
    screen.end_film()
    screen.end_film()
    screen.draw(Scene(0.1, "drill", None), 0.1)
    assert (video.closed, len(video.got)) == (1, 1)
    assert [fault.key for fault in screen.faults()] == ["film_stopped"]
