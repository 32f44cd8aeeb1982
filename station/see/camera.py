"""A live camera as a source of frames: a thread of its own, a slot of one, newest wins."""

from __future__ import annotations

import math
import threading
from collections.abc import Callable

from station.clock import Clock
from station.errors import BadInput, StationError
from station.ports import EndOfStream, SourceInfo
from station.see import capture
from station.see.exposure import Exposure, HeldExposure
from station.see.grabber import GIVE_UP_AFTER_S, Grabber
from station.values import Fault, Frame

DEATHS = 3
"""So often a camera thread that failed goes on; a fault that comes again will not go away."""
DEATH_SHOWN_S = 5.0
JOIN_S = 3.0
"""Longer than a silent camera may block a grab (see `opencv` and `capture`)."""


class CameraSource:
    """Give the newest picture of a camera; what is not fetched in time is dropped and counted.

    `Frame.index` counts the pictures captured, so a gap shows what was dropped. A camera that goes
    silent is opened again for a while before it counts as lost.
    """

    def __init__(
        self,
        device: int | str,
        width: int = 1280,
        height: int = 720,
        fps: float = 60.0,
        open_capture: capture.OpenCapture = capture.open_capture,
        present: Callable[[int | str], bool] = capture.is_present,
        give_up_after_s: float = GIVE_UP_AFTER_S,
        late_s: float = 0.0,
    ) -> None:
        """Name the camera; it is opened by `start`.

        Args:
            device: Index, path such as `/dev/video0`, or URL.
            width: Picture width to ask for, px; the camera may give another.
            height: Picture height to ask for, px.
            fps: Frames per second to ask for.
            open_capture: Opens the device; a test gives its own, as for the next.
            present: Says whether the system shows the device.
            give_up_after_s: With no picture for this long it is lost for good; infinite: never.
            late_s: How much too late its pictures' times are, as measured at set-up.

        Raises:
            BadInput: An index below 0, or a size or rate that no camera has.
        """
        if isinstance(device, int) and device < 0:
            raise BadInput(f"camera index {device}; allowed is 0 or more")
        if width < 64 or height < 64 or not (math.isfinite(fps) and 0.0 < fps <= 1000.0):
            raise BadInput(
                f"a camera picture of {width} x {height} px at {fps} fps; allowed is 64 px or "
                "more each way, over 0 and up to 1000 fps"
            )
        self.device = device
        self._size, self._fps = (width, height), float(fps)
        self._open_capture = open_capture
        self._present, self._give_up_after_s, self._late_s = present, give_up_after_s, late_s
        self._grabber: Grabber | None = None
        self._ticks = 0
        self.deaths: list[str] = []
        """What the camera thread failed of, and went on after."""
        self._died_s = float("-inf")
        self._thread: threading.Thread | None = None
        self._stopping = threading.Event()
        self._change = threading.Condition()
        self._slot: Frame | None = None
        self._failure: BaseException | None = None
        self._ended = False
        self.dropped = 0
        """Pictures that were replaced by a newer one before anybody fetched them."""

    @property
    def exposure(self) -> Exposure | None:
        """What the camera said of its exposure when it was opened; None: it was not asked."""
        opener = self._open_capture
        return opener.found if isinstance(opener, HeldExposure) else None

    def start(self, clock: Clock, paced: bool) -> SourceInfo:
        """Open the camera, wait for its first picture, and start the camera thread.

        Args:
            clock: The session's clock; frame times are on it.
            paced: Not used: a camera paces itself.

        Raises:
            DeviceTrouble: The camera is missing, busy, not allowed, or gives no picture.
        """
        if self._thread is not None:
            raise StationError("a camera was started twice")
        grabber = Grabber(
            self.device, self._size, self._fps, clock, self._open_capture, self._stopping.wait,
            give_up_after_s=self._give_up_after_s, present=self._present, late_s=self._late_s,
        )  # fmt: skip
        self._grabber = grabber
        first, fps = grabber.open()
        self._slot = first
        self._thread = threading.Thread(
            target=self._run, args=(grabber,), name="camera", daemon=True
        )
        self._thread.start()
        height, width = first.image.shape[:2]
        name = f"camera {self.device}" if isinstance(self.device, int) else self.device
        return SourceInfo(name, width, height, fps, live=True)

    def receive(self, timeout_s: float) -> Frame | None:
        """Return the newest picture not yet fetched, or None when none came in `timeout_s`.

        Raises:
            DeviceTrouble: The camera is lost for good.
            EndOfStream: The source was stopped.
            StationError: The camera thread failed.
        """
        with self._change:
            self._change.wait_for(self._anything, timeout_s)
            frame, self._slot = self._slot, None
            if frame is not None:
                return frame
            if isinstance(self._failure, StationError):
                raise self._failure
            if self._failure is not None:
                raise StationError(f"the camera thread failed: {self._failure}") from self._failure
            if self._ended or self._stopping.is_set():
                raise EndOfStream()
            return None

    def faults(self) -> tuple[Fault, ...]:
        """Return what is amiss with the camera now; may be called from another thread."""
        grabber = self._grabber
        if grabber is None:
            return ()
        now_s = grabber.clock.now_s()
        died = (Fault("thread_died"),) if now_s < self._died_s + DEATH_SHOWN_S else ()
        return (*grabber.state.faults, *died)

    @property
    def ticks(self) -> int:
        """A count that rises as long as the camera thread works, also without pictures."""
        return self._ticks

    def stop(self) -> None:
        """End the camera thread and close the camera, within 3 s; safe to repeat."""
        self._stopping.set()
        with self._change:
            self._slot = None
            self._change.notify_all()
        # the thread closes the device itself: closing it under a grab in progress can crash
        if self._thread is not None and self._thread is not threading.current_thread():
            self._thread.join(JOIN_S)

    def _anything(self) -> bool:
        return (
            self._slot is not None
            or self._failure is not None
            or self._ended
            or self._stopping.is_set()
        )

    def _run(self, grabber: Grabber) -> None:
        try:
            while not self._stopping.is_set():
                self._step(grabber)
        except BaseException as error:  # handed to whoever calls `receive`
            self._failure = error
        finally:
            grabber.close()
            with self._change:
                self._ended = True
                self._change.notify_all()

    def _step(self, grabber: Grabber) -> None:
        try:
            frame = grabber.step()
        except StationError:
            raise
        except Exception as fault:  # ours or the driver's: once more, with the device opened anew
            if len(self.deaths) >= DEATHS:
                raise
            self.deaths.append(f"{type(fault).__name__}: {fault}")
            self._died_s = grabber.clock.now_s()
            grabber.open_anew()
            return
        finally:
            self._ticks += 1
        if frame is not None:
            self._put(frame)

    def _put(self, frame: Frame) -> None:
        with self._change:
            if self._stopping.is_set():
                return
            if self._slot is not None:
                self.dropped += 1
            self._slot = frame
            self._change.notify()
