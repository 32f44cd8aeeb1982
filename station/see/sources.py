"""Choose the frame source that a `--source` text or a bay's device names."""

from __future__ import annotations

from station.errors import BadInput
from station.ports import FrameSource
from station.see.camera import CameraSource
from station.see.clip import ClipSource
from station.see.exposure import HeldExposure

URL_STARTS = ("rtsp://", "rtsps://", "http://", "https://", "udp://", "tcp://")


def is_camera(text: str) -> bool:
    """Say whether a source text names a camera: an index, a video device, or a stream's URL."""
    text = text.strip()
    digits = text.isascii() and text.isdigit()
    return digits or text.startswith("/dev/video") or text.lower().startswith(URL_STARTS)


def open_source(
    text: str,
    width: int = 1280,
    height: int = 720,
    fps: float = 60.0,
    exposure_s: float | None = None,
) -> FrameSource:
    """Return the source that `text` names, not yet started.

    Args:
        text: A camera index (`0`), a device (`/dev/video0`), a stream's URL (`rtsp://...`), or the
            path of a video file. `demo` is the caller's to handle.
        width: Picture width to ask a camera for, px; a clip has its own.
        height: Picture height to ask a camera for, px.
        fps: Frames per second to ask a camera for.
        exposure_s: What a camera's exposure is to be held at; None: its own automatic.

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
    if exposure_s is None:
        return CameraSource(device, width, height, fps)
    return CameraSource(device, width, height, fps, HeldExposure(exposure_s))
