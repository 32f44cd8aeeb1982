"""Choose the frame source that a `--source` text or a bay's device names."""

from __future__ import annotations

import math

from station.errors import BadInput
from station.ports import FrameSource
from station.see.camera import CameraSource
from station.see.clip import ClipSource
from station.see.exposure import HeldExposure
from station.see.grabber import GIVE_UP_AFTER_S

URL_STARTS = ("rtsp://", "rtsps://", "http://", "https://", "udp://", "tcp://")


def is_camera(text: str) -> bool:
    """Say whether a source text names a camera: an index, a video device, or a stream's URL."""
    text = text.strip()
    digits = text.isascii() and text.isdigit()
    device = text.startswith(("/dev/video", "/dev/v4l/"))
    return digits or device or text.lower().startswith(URL_STARTS)


def open_source(
    text: str,
    width: int = 1280,
    height: int = 720,
    fps: float = 60.0,
    exposure_s: float | None = None,
    late_s: float = 0.0,
    patient: bool = False,
) -> FrameSource:
    """Return the source that `text` names, not yet started.

    Args:
        text: A camera index (`0`), a device (`/dev/video0`), a stream's URL (`rtsp://...`), or the
            path of a video file. `demo` is the caller's to handle.
        width: Picture width to ask a camera for, px; a clip has its own.
        height: Picture height to ask a camera for, px.
        fps: Frames per second to ask a camera for.
        exposure_s: What a camera's exposure is to be held at; None: its own automatic.
        late_s: How much too late a camera's pictures are timed, as measured at set-up.
        patient: A camera that is lost is waited for, however long it takes.

    Raises:
        BadInput: The text is empty.
    """
    text = text.strip()
    if not text:
        raise BadInput(
            "--source is empty; allowed is a camera index, a device such as /dev/video0, "
            "a URL (rtsp://, http://), a video file, or demo"
        )
    if not is_camera(text):
        return ClipSource(text)
    device: int | str = int(text) if text.isdigit() else text
    wait_s = math.inf if patient else GIVE_UP_AFTER_S
    return CameraSource(
        device, width, height, fps, HeldExposure(exposure_s), give_up_after_s=wait_s, late_s=late_s
    )
