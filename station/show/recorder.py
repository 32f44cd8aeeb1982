"""Writes what the screen showed: a clip at constant frame rate, and stills."""

from __future__ import annotations

import queue
import threading
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from station.errors import BadInput, StationError
from station.show.film_file import FilmFile

Image = NDArray[np.uint8]
_WAITING = 6  # pictures between the loop and the encoder, about 0.1 s at 60 fps
_STOP_S = 30.0


class VideoRecorder:
    """Encodes pictures on its own thread, so that the clip's time is the stream's time.

    Pictures come at uneven times; each is held until the next one's place on the constant frame
    rate, and one that would share a place with the next gives way to it. `write` and `close` are
    called from one thread.
    """

    def __init__(
        self, path: str | Path, width: int, height: int, fps: float, live: bool = False
    ) -> None:
        """Open the file and start the encoder's thread.

        Args:
            path: The clip, ending in `.mp4`; its folder is made if need be.
            width: Picture width in pixels, even.
            height: Picture height in pixels, even.
            fps: Frames per second of the clip.
            live: True: a picture is dropped and counted when the encoder lags behind (the one
                before stays on for longer); False: `write` waits for it.

        Raises:
            BadInput: The file cannot be written.
        """
        self.path = Path(path)
        self.fps = fps
        self.dropped = 0
        self._size = (width, height)
        self._live = live
        self._start_s: float | None = None
        self._last_slot = -1
        self._closed = False
        self._fault: Exception | None = None
        self._video = _open(self.path, self._size, fps)
        self._free: queue.Queue[Image] = queue.Queue()
        for _ in range(_WAITING + 2):  # the waiting ones, the one held, the one being filled
            self._free.put(np.empty((height, width, 3), np.uint8))
        self._full: queue.Queue[tuple[int, Image] | None] = queue.Queue()  # bounded by `_free`
        self._thread = threading.Thread(target=self._encode, name="clip-encoder", daemon=True)
        self._thread.start()

    def write(self, t_s: float, image: Image) -> None:
        """Take a picture that stood on the screen from `t_s` on; the picture is copied.

        Args:
            t_s: Stream time in seconds; the first picture's is the clip's 0. One that is earlier
                than the picture before is left out.
            image: (height, width, 3) uint8 BGR.

        Raises:
            StationError: Encoding has failed, or the recorder is closed.
        """
        self._check()
        if self._closed:
            raise StationError(f"{self.path}: the clip is closed already")
        if self._start_s is None:
            self._start_s = t_s
        slot = round((t_s - self._start_s) * self.fps)
        if slot < self._last_slot:
            return
        buffer = self._take()
        if buffer is None:
            self.dropped += 1
            return
        np.copyto(buffer, image)
        self._last_slot = slot
        self._full.put((slot, buffer))

    @property
    def span_s(self) -> tuple[float, float] | None:
        """The first picture's time and the end of the newest one; None before the first."""
        if self._start_s is None or self._last_slot < 0:
            return None
        return self._start_s, self._start_s + (self._last_slot + 1) / self.fps

    def close(self) -> None:
        """Write what waits, finish the file and end the thread; safe to repeat, also in `finally`.

        Raises:
            StationError: Encoding has failed.
        """
        if not self._closed:
            self._closed = True
            self._full.put(None)
        self._thread.join(_STOP_S)
        if self._thread.is_alive():
            raise StationError(
                f"{self.path}: the clip could not be finished within {_STOP_S:.0f} s"
            )
        self._check()

    def _check(self) -> None:
        if self._fault is not None:
            why = getattr(self._fault, "strerror", None) or self._fault
            raise StationError(f"{self.path}: the clip cannot be written ({why})")

    def _take(self) -> Image | None:
        """Return a free buffer; None when there is none and the session is live."""
        while True:
            try:
                if self._live:
                    return self._free.get_nowait()
                return self._free.get(timeout=0.5)
            except queue.Empty:
                if self._live:
                    return None
                self._check()  # the encoder may have died: then no buffer ever comes

    def _encode(self) -> None:
        """Lay the pictures onto the constant rate until the end comes; runs on the own thread."""
        held: tuple[int, Image] | None = None
        try:
            while True:
                item = self._full.get()
                if held is not None:
                    until = held[0] + 1 if item is None else item[0]
                    self._video.write(held[1], until - held[0])
                    self._free.put(held[1])
                held = item
                if item is None:
                    break
        except Exception as fault:  # handed to the caller's thread by `_check`
            self._fault = fault
        try:
            self._video.release()
        except Exception as fault:
            self._fault = self._fault or fault


def save_still(path: str | Path, image: Image) -> None:
    """Write one picture as PNG or JPEG, by the file's ending.

    Args:
        path: Ends in `.png`, `.jpg` or `.jpeg`; its folder is made if need be.
        image: (H, W, 3) uint8 BGR.

    Raises:
        BadInput: The file cannot be written, or has another ending.
    """
    target = Path(path)
    if target.suffix.lower() not in (".png", ".jpg", ".jpeg"):
        raise BadInput(f"{target}: a still ends in .png, .jpg or .jpeg")
    _make_folder(target)
    done, data = cv2.imencode(target.suffix.lower(), image)
    if not done:
        raise BadInput(f"{target}: the picture cannot be encoded")
    try:
        target.write_bytes(data.tobytes())
    except OSError as fault:
        raise BadInput(f"{target}: cannot be written ({fault.strerror})") from fault


def _make_folder(target: Path) -> None:
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise BadInput(
            f"{target.parent}: this folder cannot be made ({fault.strerror}); name one that can "
            "be written to"
        ) from fault


def _open(path: Path, size: tuple[int, int], fps: float) -> FilmFile:
    if path.suffix.lower() != ".mp4":
        raise BadInput(f"{path}: a clip ends in .mp4")
    _make_folder(path)
    try:
        path.open("wb").close()  # told at once, not with the first picture
    except OSError as fault:
        raise BadInput(
            f"{path}: cannot be written ({fault.strerror}); name a folder that can be written to"
        ) from fault
    return FilmFile(path, size, fps)
