"""Take picture after picture from a camera, and bring a lost one back: one step at a time."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable

from station.clock import Clock
from station.errors import DeviceTrouble, Worded
from station.see.camera_state import LOST_TOLD_S, CameraState
from station.see.capture import Capture, OpenCapture, cannot_open, is_present, is_url
from station.see.opencv import cv2
from station.see.picture_watch import FROZEN_AFTER_S, STREAM_FROZEN_S
from station.see.stamps import Stamps
from station.values import Frame

FIRST_TRIES = 3
RETRY_S = 0.02
REOPEN_EVERY_S = 0.5
LOST_AFTER_S = 2.0
GIVE_UP_AFTER_S = 60.0
AT_ONCE_S = 0.1
"""A grab that fails sooner than this did not wait for a picture: the device is gone."""
AT_ONCE_FAILS = 10
FROZEN_REOPEN_S = (1.0, 2.0, 4.0, 8.0, 15.0)
"""How long a frozen picture is waited with, before it is opened again the first time and so on."""


class Grabber:
    """The camera's side of the camera thread, without the thread.

    `open` and then `step` again and again, then `close`; all from one thread at a time.
    """

    def __init__(
        self,
        device: int | str,
        size: tuple[int, int],
        fps: float,
        clock: Clock,
        open_capture: OpenCapture,
        pause: Callable[[float], object],
        lost_after_s: float = LOST_AFTER_S,
        give_up_after_s: float = GIVE_UP_AFTER_S,
        monotonic: Callable[[], float] = time.monotonic,
        present: Callable[[int | str], bool] = is_present,
        late_s: float = 0.0,
    ) -> None:
        """Prepare; nothing is opened yet.

        Args:
            device: Index, path or URL.
            size: Width and height to ask for, px.
            fps: Frames per second to ask for.
            clock: The session's clock.
            open_capture: Opens the device.
            pause: Waits for so many seconds at most, shorter when told to stop.
            lost_after_s: With no picture for this long, the device is closed and opened again.
            give_up_after_s: With no picture for this long, the device is lost for good; infinite:
                it is waited for.
            monotonic: The clock of the driver's stamps, seconds.
            present: Says whether the system shows the device; one that it does not is closed at
                once, so that it may come back under its own name.
            late_s: How much too late the pictures' times are, as measured at set-up.
        """
        self._device, self._size, self._fps = device, size, fps
        self.clock, self._open_capture, self._pause = clock, open_capture, pause
        self._lost_after_s, self._give_up_after_s = lost_after_s, give_up_after_s
        self._monotonic = monotonic
        self._present, self._late_s = present, late_s
        self._at_once = 0  # grabs in a row that failed without waiting
        self._frozen_s: float | None = None  # since when the picture stands still, or was reopened
        self._frozen_tries = 0
        self._capture: Capture | None = None
        self._stamps = Stamps(clock.now_s() - monotonic())
        self._last_good_s = clock.now_s()
        self._opened_s = clock.now_s()
        self.captured = 0
        """Pictures that came from the device, also those that could not be decoded."""
        self.damaged = 0
        """Pictures that could not be decoded."""
        self.reopened = 0
        self.state = CameraState(fps, STREAM_FROZEN_S if is_url(device) else FROZEN_AFTER_S)
        """What is amiss; may be read by another thread."""

    def open(self) -> tuple[Frame, float]:
        """Open the device and return its first picture and the frames per second it says.

        Raises:
            DeviceTrouble: It is missing, busy, not allowed, or gives no picture.
        """
        self._reopen()
        for _ in range(FIRST_TRIES):
            frame = self._grab()
            if frame is not None:
                capture = self._capture
                said = capture.get(cv2.CAP_PROP_FPS) if capture is not None else 0.0
                return frame, said if 0.0 < said <= 1000.0 else self._fps
            if self._capture is None:
                break
            self._pause(RETRY_S)
        self.close()
        raise cannot_open(self._device)

    def step(self) -> Frame | None:
        """Wait for one picture and return it; None: none came, it was damaged, or an old one.

        Raises:
            DeviceTrouble: No picture came for so long that the device is lost for good.
        """
        damaged = self.damaged
        began_s = self._monotonic()
        frame = self._grab()
        if frame is not None:
            self._at_once = 0
            return frame if self._is_new(frame) else None
        now_s = self.clock.now_s()
        silent_s = now_s - self._last_good_s
        self.state.nothing(silent_s)
        if silent_s >= self._give_up_after_s:
            self.close()
            raise DeviceTrouble(
                Worded(
                    f"camera {self._device} was lost: no picture for {silent_s:.0f} s, and opening "
                    "it again did not help; check its cable and power, then start again",
                    "camera_given_up",
                    name=str(self._device),
                    seconds=f"{silent_s:.0f}",
                )
            )
        opened_for_s = now_s - self._opened_s
        if self._capture is None:
            if opened_for_s >= REOPEN_EVERY_S and self._present(self._device):
                self._reopen()
            else:
                self._pause(RETRY_S)
            return None
        self._at_once = self._at_once + 1 if self._monotonic() - began_s < AT_ONCE_S else 0
        gone = not self._present(self._device)
        dead = self._at_once >= AT_ONCE_FAILS and opened_for_s >= REOPEN_EVERY_S
        silent = silent_s >= self._lost_after_s and opened_for_s >= self._lost_after_s
        if gone or dead or silent:
            self.state.nothing(LOST_TOLD_S)  # told before the opening, which takes its time
            self.open_anew()
        elif self.damaged == damaged:  # after a damaged picture the next one is on its way
            self._pause(RETRY_S)
        return None

    def open_anew(self) -> None:
        """Close the device, and open it again where it is there."""
        self._at_once = 0
        self.close()
        self._opened_s = self.clock.now_s()
        if self._present(self._device):
            self._reopen()

    def _is_new(self, frame: Frame) -> bool:
        """Whether a picture shows something new; one that stands still is opened again."""
        now_s = self.clock.now_s()
        if self.state.picture(now_s, frame.image):
            self._frozen_s, self._frozen_tries = None, 0
            return True
        self._frozen_s = now_s if self._frozen_s is None else self._frozen_s
        wait_s = FROZEN_REOPEN_S[min(self._frozen_tries, len(FROZEN_REOPEN_S) - 1)]
        if now_s - self._frozen_s >= wait_s:
            self._frozen_tries += 1
            self._frozen_s = now_s
            self.open_anew()
        return False

    def close(self) -> None:
        """Close the device; safe to repeat."""
        capture, self._capture = self._capture, None
        if capture is not None:
            with contextlib.suppress(cv2.error):
                capture.release()

    def _reopen(self) -> None:
        first = self.captured == 0
        capture: Capture | None = None
        with contextlib.suppress(cv2.error):
            capture = self._open_capture(self._device, *self._size, self._fps)
        if capture is not None and not capture.isOpened():
            capture.release()
            capture = None
        self._capture = capture
        # opening may take seconds; what counts is since when it could have given pictures
        self._opened_s = self.clock.now_s()
        if not first:
            self.reopened += 1
            self._stamps = self._stamps if capture is None else self._fresh_stamps()

    def _fresh_stamps(self) -> Stamps:
        return Stamps(self.clock.now_s() - self._monotonic())

    def _grab(self) -> Frame | None:
        capture = self._capture
        if capture is None:
            return None
        try:
            if not capture.grab():
                return None
            arrival_s = self.clock.now_s()
            stamp_s = capture.get(cv2.CAP_PROP_POS_MSEC) / 1000.0
        except cv2.error:
            return None
        index, self.captured = self.captured, self.captured + 1
        t_s = self._stamps.time_s(stamp_s, arrival_s)
        image = None
        with contextlib.suppress(cv2.error):
            good, image = capture.retrieve()
            image = image if good else None
        if image is None:
            self.damaged += 1
            return None
        if image.ndim == 2 or image.shape[2] == 1:
            image = cv2.cvtColor(image, cv2.COLOR_GRAY2BGR)
        self._last_good_s = self.clock.now_s()
        return Frame(t_s - self._late_s, index, image)
