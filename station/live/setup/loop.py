"""The set-up's loop on the main thread: what is done, what is seen, what is shown."""

from __future__ import annotations

from collections import deque
from typing import Protocol, runtime_checkable

import numpy as np
from numpy.typing import NDArray

from station.clock import Clock
from station.coach.setup.course import SetupCourse
from station.coach.setup.learn_step import LearnStep
from station.coach.setup.page import SetupPage
from station.coach.setup.values import (
    Clapped,
    Done,
    Draft,
    Facts,
    Failed,
    ListenForClaps,
    LookAtFolder,
    MeasureSound,
    OpenCamera,
    Opened,
    Quality,
    Save,
    Told,
    Wish,
)
from station.errors import StationError, Worded, text_of
from station.live.clap import ClapNotFound, judge
from station.live.feed import Feed, Seen
from station.live.pose_threads import POSES_WAITING
from station.live.stopping import StopWish
from station.measure.clap import claps_seen
from station.ports import EndOfStream
from station.see.picture_quality import picture_quality
from station.values import Pose

Image = NDArray[np.uint8]
WAIT_S = 0.02
SHOWN_EVERY_S = 1.0 / 20.0
_QUALITY_PICTURES = 8
_QUALITY_EVERY = 12
CLOSED = "window closed"


@runtime_checkable
class SetsStage(Protocol):
    """A source before which somebody does what a step asks for: the simulated bay."""

    def set_up(self, step: str) -> None:
        """Do it from now on; may be called from another thread than takes the pictures."""
        ...


class SetupScreen(Protocol):
    """Where pages go, and what is done there."""

    def inputs(self) -> tuple[Done, ...]:
        """Return what was done since the last call, in order."""
        ...

    @property
    def closed(self) -> bool:
        """The window was closed."""
        ...

    @property
    def share(self) -> float:
        """How large the picture is shown now against the full screen."""
        ...

    def show(self, page: SetupPage, picture: Image | None) -> None:
        """Show a page, with the camera's own picture."""
        ...


class SetupDevices(Protocol):
    """Opens and measures; nothing of it blocks for longer than a camera needs to open."""

    def open(
        self, device: int | str, exposure_s: float | None, draft: Draft
    ) -> tuple[Feed, Opened]:
        """Open a camera in place of what is open, and start it.

        Raises:
            StationError: It cannot be opened.
        """
        ...

    def close(self) -> None:
        """Close what is open; safe to repeat."""
        ...

    def measure_sound(self, volume: float, draft: Draft) -> None:
        """Begin to play and listen, beside the loop."""
        ...

    def heard(self) -> Told | None:
        """Return what came of it, once; None: nothing yet."""
        ...

    def listen(self) -> None:
        """Begin to listen for claps, beside the loop."""
        ...

    def sounds(self) -> tuple[float, ...] | Failed | None:
        """Return when sudden sounds came, on the pictures' clock, once; None: not yet."""
        ...

    def look_at_folder(self, path: str | None) -> Told:
        """Find out whether records can be written there."""
        ...

    def save(self, draft: Draft) -> Told:
        """Write the profile."""
        ...


class SetupLoop:
    """Leads one set-up. Main thread only."""

    def __init__(
        self, course: SetupCourse, screen: SetupScreen, devices: SetupDevices, clock: Clock
    ) -> None:
        """Prepare; `run` begins.

        Args:
            course: The way through it.
            screen: Where it is shown.
            devices: What it measures with.
            clock: Paces the screen.
        """
        self.course = course
        self._screen = screen
        self._devices = devices
        self._clock = clock
        self._feed: Feed | None = None
        self._newest: Image | None = None
        self._last: deque[Image] = deque(maxlen=_QUALITY_PICTURES)
        self._count = 0
        self._shown_s = -1.0
        self._poses: list[Pose] | None = None  # while claps are listened for
        self._far_m = 0.0
        self._step = ""

    def run(self, stop: StopWish) -> str | None:
        """Lead it to its end; return why it was broken off, None: it was not.

        Raises:
            Exception: Whatever a part raised; the camera has been closed.
        """
        try:
            self._show()
            self._do(self.course.begin())
            while not self.course.over:
                if stop.reason is not None:
                    return stop.reason
                if self._screen.closed:
                    return CLOSED
                self.turn()
            return None
        finally:
            self._devices.close()

    def turn(self) -> None:
        """Do one turn: what was done, one picture, the screen."""
        for done in self._screen.inputs():
            self._do(self.course.take(done))
        self.course.shown_at(self._screen.share)
        heard = self._devices.heard()
        if heard is not None:
            self.course.told(heard)
        self._hear_claps()
        self._look()
        if self._clock.now_s() - self._shown_s >= SHOWN_EVERY_S:
            self._show()

    def _hear_claps(self) -> None:
        sounds = None if self._poses is None else self._devices.sounds()
        if sounds is None or self._poses is None:
            return
        poses, self._poses = self._poses, None
        if isinstance(sounds, Failed):
            self.course.told(sounds)
            return
        try:
            found = judge(claps_seen(poses), sounds, self._far_m)
        except ClapNotFound as trouble:
            self.course.told(Failed("clap", text_of(trouble)))
            return
        self.course.told(Clapped(found.late_s, found.spread_s, found.claps))

    def _look(self) -> None:
        feed = self._feed
        if feed is None:
            self._clock.wait_until(self._clock.now_s() + WAIT_S, WAIT_S)
            return
        try:
            seen = feed.next(WAIT_S)
            # No more than can wait: a step that is slower than its pictures come (a line is looked
            # for in all of each) would never get to the window.
            for _ in range(POSES_WAITING):
                if seen is None:
                    break
                self._take(seen)
                seen = feed.waiting()
        except EndOfStream as end:
            over = Worded("the recording has ended; open it again", "recording_over")
            self._lose(end.note or over)
        except StationError as trouble:
            self._lose(text_of(trouble))

    def _take(self, seen: Seen) -> None:
        if seen.frame is None:
            return
        image, quality = seen.frame.image, None
        self._newest = image
        if self._poses is not None:
            self._poses.append(seen.pose)
        if self._step == "light":
            self._last.append(image)
            self._count += 1
            if len(self._last) == _QUALITY_PICTURES and self._count % _QUALITY_EVERY == 0:
                found = picture_quality(tuple(self._last))
                quality = Quality(found.brightness, found.white, found.edge_px)
        self.course.see(Facts(seen.frame.t_s, seen.frame.index, image, seen.pose, quality))
        step = self.course.step
        if isinstance(step, LearnStep) and step.detect_anew and self._feed is not None:
            self._feed.detect_anew()

    def _lose(self, why: str) -> None:
        self._feed, self._newest = None, None
        self._devices.close()
        self.course.lost()
        self.course.told(Failed("camera", why))

    def _do(self, wish: Wish | None) -> None:
        self._stage()
        if wish is None:
            return
        if isinstance(wish, OpenCamera):
            self._open(wish)
        elif isinstance(wish, MeasureSound):
            self._devices.measure_sound(wish.volume, self.course.draft)
        elif isinstance(wish, ListenForClaps):
            self._poses, self._far_m = [], wish.far_m
            self._devices.listen()
        elif isinstance(wish, LookAtFolder):
            self.course.told(self._devices.look_at_folder(wish.path))
        elif isinstance(wish, Save):
            self.course.told(self._devices.save(self.course.draft))
        self._stage()

    def _open(self, wish: OpenCamera) -> None:
        self._feed, self._newest = None, None
        self._last.clear()
        self._devices.close()
        self.course.lost()
        self._show()
        try:
            self._feed, opened = self._devices.open(wish.device, wish.exposure_s, self.course.draft)
        except StationError as trouble:
            self.course.told(Failed("camera", text_of(trouble)))
            return
        self.course.told(opened)
        self._step = ""

    def _stage(self) -> None:
        """Tell a source that can do it what the step needs before the camera."""
        name = self.course.step.name
        if name == self._step:
            return
        self._step = name
        self._last.clear()
        if isinstance(self._devices, SetsStage):
            self._devices.set_up(name)

    def _show(self) -> None:
        self._shown_s = self._clock.now_s()
        self._screen.show(self.course.page(), self._newest)
