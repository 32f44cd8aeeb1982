"""A video file as a source of frames, at its own times."""

from __future__ import annotations

import math
from collections import deque
from pathlib import Path
from typing import Any

from station.clock import Clock
from station.errors import BadInput, StationError
from station.ports import EndOfStream, SourceInfo
from station.see.opencv import cv2
from station.values import Frame

PICTURE_SUFFIXES = frozenset(
    (".png", ".jpg", ".jpeg", ".bmp", ".tif", ".tiff", ".webp", ".pgm", ".ppm", ".heic", ".heif")
)
ALLOWED = "allowed is a video file that FFmpeg can read (such as .mp4, .mov, .avi, .mkv, .webm)"
ASSUMED_FPS = 30.0
HIGHEST_FPS = 1000.0
LEAST_MISSING_S = 0.25
MOST_MISSING_S = 1.0
MISSING_SHARE = 0.02
"""A clip's header may promise this share more than there is (its sound runs on): no early end."""


class ClipSource:
    """Give the frames of a video file, each at the container's own time; the first is at 0.

    A clip that ends before its header says ends with a note, not with an error. Frames whose time
    is missing or does not rise get the nominal interval after the frame before; a note says so.
    """

    def __init__(self, path: str | Path) -> None:
        """Name the file; it is opened by `start`."""
        self._path = Path(path)
        self._capture: Any = None
        self._ahead: deque[Frame] = deque()
        self._given = 0
        self._read = 0
        self._retimed = 0
        self._offset_s = 0.0
        self._last_s: float | None = None
        self._fps = ASSUMED_FPS
        self._expected: int | None = None
        self._clock: Clock | None = None
        self._paced = False
        self._notes: list[str] = []

    def start(self, clock: Clock, paced: bool) -> SourceInfo:
        """Open the file and read its first two frames.

        Args:
            clock: The session's clock, on which a paced clip's frames fall due.
            paced: Whether frames wait for their time.

        Returns:
            The clip's size as shown (turned upright where the file says so), rate and length.

        Raises:
            BadInput: The file is missing, empty, unreadable, or no video of two frames or more.
        """
        self._clock, self._paced = clock, paced
        _check_file(self._path)
        self._capture = cv2.VideoCapture(str(self._path), cv2.CAP_FFMPEG)
        if not self._capture.isOpened():
            self.stop()
            raise BadInput(
                f"{self._path} is not a video, or not a whole one (a recording that was never "
                f"ended, or copied in part): {ALLOWED}"
            )
        self._capture.set(cv2.CAP_PROP_ORIENTATION_AUTO, 1)
        said_fps = float(self._capture.get(cv2.CAP_PROP_FPS))
        if math.isfinite(said_fps) and 0.0 < said_fps <= HIGHEST_FPS:
            self._fps = said_fps
        else:
            self._notes.append(f"{self._path} names no frame rate; {ASSUMED_FPS:g} is assumed.")
        said_frames = float(self._capture.get(cv2.CAP_PROP_FRAME_COUNT))
        if math.isfinite(said_frames) and 0 < said_frames < 1e9:
            self._expected = int(said_frames)
        for _ in range(2):
            frame = self._next()
            if frame is not None:
                self._ahead.append(frame)
        if len(self._ahead) < 2:
            what = "a single picture" if self._ahead else "no picture that can be decoded"
            self.stop()
            raise BadInput(f"{self._path} holds {what}: {ALLOWED}, with two frames or more")
        height, width = self._ahead[0].image.shape[:2]
        return SourceInfo(
            str(self._path), width, height, self._fps, live=False, frames=self._expected
        )

    def receive(self, timeout_s: float) -> Frame | None:
        """Return the next frame; None when a paced clip's next frame is not due in `timeout_s`.

        Raises:
            EndOfStream: There are no more frames; its note says what was amiss, if anything.
        """
        if self._capture is None or self._clock is None:
            if self._given:
                raise EndOfStream()
            raise StationError("a clip was asked for a frame before it was started")
        if not self._ahead:
            frame = self._next()
            if frame is None:
                note = self._closing_note()
                self.stop()
                raise EndOfStream(note)
            self._ahead.append(frame)
        if self._paced and not self._clock.wait_until(self._ahead[0].t_s, timeout_s):
            return None
        self._given += 1
        return self._ahead.popleft()

    def stop(self) -> None:
        """Close the file; safe to repeat."""
        capture, self._capture = self._capture, None
        if capture is not None:
            capture.release()

    def _next(self) -> Frame | None:
        try:
            got, image = self._capture.read()
        except cv2.error:
            return None
        if not got or image is None:
            return None
        frame = Frame(self._time_s(), self._read, image)
        self._read += 1
        return frame

    def _time_s(self) -> float:
        """Return the time of the frame just read, made to rise."""
        said_s = float(self._capture.get(cv2.CAP_PROP_POS_MSEC)) / 1000.0
        if not math.isfinite(said_s):
            said_s = 0.0
        if self._last_s is None:
            self._offset_s, self._last_s = -said_s, 0.0
            return 0.0
        t_s = said_s + self._offset_s
        if t_s <= self._last_s + 1e-6:
            t_s = self._last_s + 1.0 / self._fps
            self._offset_s = t_s - said_s
            self._retimed += 1
        self._last_s = t_s
        return t_s

    def _closing_note(self) -> str | None:
        notes = list(self._notes)
        end_s = (self._last_s or 0.0) + 1.0 / self._fps
        if self._expected is not None:
            length_s = self._expected / self._fps
            missing = self._expected - self._read
            allowed_s = max(LEAST_MISSING_S, min(MOST_MISSING_S, MISSING_SHARE * length_s))
            if missing / self._fps > allowed_s:
                if length_s - end_s > allowed_s:
                    notes.append(
                        f"{self._path} ended early at {end_s:.1f} s of {length_s:.1f} s "
                        f"({self._read} of {self._expected} frames could be read)."
                    )
                else:
                    notes.append(
                        f"{missing} of {self._expected} frames of {self._path} "
                        "could not be decoded."
                    )
        if self._retimed:
            notes.append(
                f"{self._retimed} of {self._read} frames of {self._path} have no rising time; "
                f"they were taken as 1/{self._fps:g} s apart."
            )
        return " ".join(notes) or None


def _check_file(path: Path) -> None:
    if path.is_dir():
        raise BadInput(f"{path} is a folder: {ALLOWED}")
    if not path.exists():
        raise BadInput(f"there is no file {path}: {ALLOWED}")
    if not path.is_file():
        raise BadInput(f"{path} is no ordinary file: {ALLOWED}")
    if path.suffix.lower() in PICTURE_SUFFIXES:
        raise BadInput(f"{path} is a still picture: {ALLOWED}")
    try:
        with path.open("rb") as file:
            empty = not file.read(1)
    except PermissionError as error:
        raise BadInput(f"{path} may not be read by this user; change its permissions") from error
    except OSError as error:
        raise BadInput(f"{path} cannot be read: {error.strerror or error}") from error
    if empty:
        raise BadInput(f"{path} is empty: {ALLOWED}")
