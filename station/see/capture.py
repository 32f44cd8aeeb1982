"""Open a camera or a stream by OpenCV, and say what to do where that fails."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, Protocol

from station.errors import DeviceTrouble, Worded
from station.see.opencv import cv2

OPEN_TIMEOUT_MS = 5000
READ_TIMEOUT_MS = 2000


class Capture(Protocol):
    """The part of OpenCV's VideoCapture that a camera needs."""

    def isOpened(self) -> bool:  # noqa: N802 - OpenCV's own name, as are all here
        """Say whether the device is open."""
        ...

    def set(self, prop: int, value: float) -> bool:
        """Ask for a property; the device may ignore it."""
        ...

    def get(self, prop: int) -> float:
        """Return a property, 0 where it is not known."""
        ...

    def grab(self) -> bool:
        """Wait for the next picture and keep it undecoded; False: none came."""
        ...

    def retrieve(self) -> tuple[bool, Any]:
        """Decode the picture last grabbed."""
        ...

    def release(self) -> None:
        """Close the device."""
        ...


OpenCapture = Callable[[int | str, int, int, float], Capture]
"""Opens a device (index, path or URL) with the width, height (px) and frames per second asked."""


def is_url(device: int | str) -> bool:
    """Say whether a device is a network stream."""
    return isinstance(device, str) and "://" in device


def is_present(device: int | str, folder: Path = Path("/dev")) -> bool:
    """Say whether the system shows a device; where it cannot be told, it is taken to be there."""
    if is_url(device) or not sys.platform.startswith("linux"):
        return True
    path = Path(device) if isinstance(device, str) else folder / f"video{device}"
    return path.exists()


def open_capture(device: int | str, width: int, height: int, fps: float) -> Capture:
    """Open a camera or a stream; the result may turn out not to be opened.

    A camera is asked for MJPG (raw pictures at 720p do not fit through USB 2 at 60 frames per
    second) and for a buffer of one picture (older ones would only add delay).

    Args:
        device: Index, path such as `/dev/video0`, or URL.
        width: Picture width to ask for, px.
        height: Picture height to ask for, px.
        fps: Frames per second to ask for.
    """
    if is_url(device):
        limits = [
            cv2.CAP_PROP_OPEN_TIMEOUT_MSEC,
            OPEN_TIMEOUT_MS,
            cv2.CAP_PROP_READ_TIMEOUT_MSEC,
            READ_TIMEOUT_MS,
        ]
        stream: Capture = cv2.VideoCapture(device, cv2.CAP_FFMPEG, limits)
        return stream
    backend = cv2.CAP_V4L2 if sys.platform.startswith("linux") else cv2.CAP_ANY
    capture: Capture = cv2.VideoCapture(device, backend)
    if capture.isOpened():
        # the picture format first: the sizes and rates on offer depend on it
        capture.set(cv2.CAP_PROP_FOURCC, cv2.VideoWriter.fourcc(*"MJPG"))
        capture.set(cv2.CAP_PROP_FRAME_WIDTH, width)
        capture.set(cv2.CAP_PROP_FRAME_HEIGHT, height)
        capture.set(cv2.CAP_PROP_FPS, fps)
        capture.set(cv2.CAP_PROP_BUFFERSIZE, 1)
    return capture


def found_devices(folder: Path = Path("/dev")) -> tuple[str, ...]:
    """Return the paths of the video devices that the system shows, in order of number."""
    found = [path for path in folder.glob("video*") if path.name[5:].isdigit()]
    return tuple(str(path) for path in sorted(found, key=lambda path: int(path.name[5:])))


_WHY = {
    "camera_absent": "is not there; plug it in, or name another.",
    "camera_barred": "may not be opened by this user; add the user to the group 'video'.",
    "camera_refuses": "cannot be opened or gives no picture; close the other program that uses it, "
    "or name another (one camera often shows as two devices, of which one gives none).",
}


def cannot_open(device: int | str, folder: Path = Path("/dev")) -> DeviceTrouble:
    """Return the error that says why a device may not have opened and what to do."""
    if is_url(device):
        return DeviceTrouble(
            Worded(
                f"the stream {device} gives no picture within {OPEN_TIMEOUT_MS / 1000:g} s; "
                "check the address, the network, and that the sender is on",
                "stream_silent",
                name=str(device),
                seconds=f"{OPEN_TIMEOUT_MS / 1000:g}",
            )
        )
    found = found_devices(folder)
    path = Path(device) if isinstance(device, str) else folder / f"video{device}"
    name = f"camera {device}" if isinstance(device, int) else str(device)
    there = ", ".join(found)
    listing = Worded("No video device is found.", "no_video_device")
    if found:
        listing = Worded(f"Video devices found: {there}.", "video_devices", there=there)
    if not path.exists():
        key = "camera_absent"
    else:
        key = "camera_refuses" if os.access(path, os.R_OK | os.W_OK) else "camera_barred"
    return DeviceTrouble(
        Worded(f"{name} {_WHY[key]} {listing}", key, name=str(path), listing=listing)
    )
