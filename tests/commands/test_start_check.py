"""What a bay looks at by itself when it starts, with a made camera."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from still_camera import noisy

from station.clock import StreamClock
from station.coach.visit.page import Page
from station.commands.checks.finding import Finding, device_fault
from station.commands.start_check import SHOWN_S, amiss, start_findings, tell_start
from station.live.bay.ports import BayInput
from station.live.feed import Seen
from station.live.stopping import StopWish
from station.ports import EndOfStream, SourceInfo
from station.values import Bay, Frame, Pose, ViewProfile

INFO = SourceInfo("camera 0", 640, 360, 60.0, live=True)


class Feed:
    def __init__(self, clock: StreamClock, fps: float = 60.0, same: bool = False, count: int = 999):
        self.clock, self.fps, self.same, self.count = clock, fps, same, count
        self.index = 0

    def next(self, timeout_s: float) -> Seen | None:
        if self.index >= self.count:
            raise EndOfStream()
        image = noisy(0 if self.same else self.index)
        frame = Frame(self.index / self.fps, self.index, image)
        self.index += 1
        self.clock.move_to(frame.t_s)
        return Seen(frame, Pose.nobody(frame.t_s, frame.index, 640, 360))


class Screen:
    def __init__(self, clock: StreamClock, *given: BayInput) -> None:
        self.clock, self.given = clock, given
        self.pages: list[Page] = []

    def show_page(self, page: Page, picture: np.ndarray | None) -> None:
        self.pages.append(page)

    def inputs(self) -> tuple[BayInput, ...]:
        return self.given if len(self.pages) > 2 else ()


@pytest.fixture
def bay(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Bay:
    monkeypatch.chdir(tmp_path)
    view = ViewProfile("right", 300.0, ((50.0, 320.0), (600.0, 320.0)), 640, 360, 0.5)
    return Bay(width=640, height=360, fps=60.0, records_folder=str(tmp_path), view=view)


def look(bay: Bay, notice: str | None = None, **made: object) -> list[Finding]:
    clock = StreamClock()
    feed = Feed(clock, **made)  # type: ignore[arg-type]
    return start_findings(bay, "camera", INFO, feed, feed, clock, notice)  # type: ignore[arg-type]


def test_where_all_is_well_nothing_is_shown(bay: Bay) -> None:
    found = look(bay)
    assert [f.what for f in found][:3] == ["camera", "picture's size", "light"]
    assert amiss(found) == []
    clock, said, logged = StreamClock(), [], []
    screen = Screen(clock)
    tell_start(found, screen, clock, StopWish(), said.append, lambda *a, **k: logged.append((a, k)))
    assert screen.pages == []
    assert said == []
    assert logged == [(("info", "start_checked"), {"amiss": 0})]


@pytest.mark.parametrize(
    ("made", "what"),
    [({"fps": 30.0}, "camera"), ({"same": True}, "camera"), ({"count": 0}, "camera")],
)
def test_a_camera_that_is_not_as_set_up(bay: Bay, made: dict[str, object], what: str) -> None:
    assert [f.what for f in amiss(look(bay, **made))] == [what]


def test_a_speaker_that_had_to_say_something(bay: Bay) -> None:
    assert [f.found for f in amiss(look(bay, "silent: no loudspeaker"))] == [
        "silent: no loudspeaker"
    ]


def tell(*given: BayInput) -> tuple[Screen, list[str], StopWish, float]:
    clock, said, stop = StreamClock(), [], StopWish()
    screen = Screen(clock, *given)
    found = [
        Finding("light", "dark", "look", "more light"),
        device_fault("camera", "gone", "plug"),
        Finding("level", "well"),
        Finding("sharpness", "blurred", "look", "focus"),
    ]
    tell_start(found, screen, clock, stop, said.append, lambda *_, **__: None)  # type: ignore[arg-type]
    return screen, said, stop, clock.now_s()


def test_what_is_amiss_is_said_and_shown_for_a_while() -> None:
    screen, said, stop, took_s = tell()
    assert said == ["light: dark - more light", "camera: gone - plug", "sharpness: blurred - focus"]
    assert took_s == pytest.approx(SHOWN_S, abs=0.1)
    page = screen.pages[0]
    assert page.lines == ("start_how", "start_light", "start_camera")
    assert (page.seconds_left, screen.pages[-1].seconds_left) == (11, 1)
    assert stop.reason is None


def test_a_touch_ends_the_showing_and_a_closed_window_ends_the_bay() -> None:
    screen, _, stop, took_s = tell(BayInput(choice="begin"))
    assert len(screen.pages) == 3
    assert took_s < 1.0
    assert stop.reason is None
    _, _, stop, _ = tell(BayInput(leave=True))
    assert stop.reason == "window closed"
