"""A film's file: H.264 in MP4, which web browsers and desktop players open.

The file is written in fragments of a second, each whole by itself: a program that is killed leaves
a film that plays, and to end it takes no room on the disk. `keep/joining.py` then writes it anew
with one index at its beginning.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Final

import av
import cv2
import numpy as np
from av.codec.codec import UnknownCodecError
from av.video.reformatter import ColorPrimaries, ColorRange, Colorspace, ColorTrc
from numpy.typing import NDArray

from station.errors import BadInput

Bytes = NDArray[np.uint8]
ENCODER: Final = "libx264"
_OPTIONS = {"preset": "ultrafast", "crf": "23"}
_FRAGMENTS = {
    "movflags": "empty_moov+default_base_moof",
    "frag_duration": "1000000",  # microseconds
    "flush_packets": "1",
}
_KEY_S = 2.0  # a player that jumps decodes so much at most
_FINEST = 1001  # of the frame rate's fraction: 29.97 pictures a second are 30000 / 1001


class FilmFile:
    """Writes pictures at a constant rate; used by one thread at a time."""

    def __init__(self, path: Path, size: tuple[int, int], fps: float) -> None:
        """Open the encoder; the file is written from the first picture on.

        Args:
            path: The file; its folder is there.
            size: Width and height in pixels, both even.
            fps: Pictures per second.

        Raises:
            BadInput: There is no encoder for that.
        """
        rate = Fraction(fps).limit_denominator(_FINEST)
        what = f"{size[0]} x {size[1]} pictures at {fps:g} fps"
        if rate <= 0:
            raise BadInput(f"{path}: no film can be made of {what}")
        self._container = av.open(str(path), "w", format="mp4", options=_FRAGMENTS)
        try:
            self._stream = self._container.add_stream(ENCODER, rate=rate, options=_OPTIONS)
        except UnknownCodecError as fault:
            raise BadInput(
                f"{path}: no film can be written: the package `av` that is installed here has no "
                f"H.264 encoder ({ENCODER}); its wheels have one"
            ) from fault
        self._stream.width, self._stream.height = size
        self._stream.pix_fmt = "yuv420p"
        context = self._stream.codec_context
        context.thread_count = 1  # the session's own work needs the other processors
        context.gop_size = max(round(_KEY_S * rate), 1)
        # What OpenCV converts to, of pictures painted for a screen (sRGB).
        context.color_range = ColorRange.MPEG
        context.colorspace = Colorspace.ITU601
        context.color_primaries = ColorPrimaries.BT709
        context.color_trc = ColorTrc.IEC61966_2_1
        try:
            context.open()
        except av.FFmpegError as fault:
            raise BadInput(
                f"{path}: the H.264 encoder does not take {what} ({fault.strerror})"
            ) from fault
        self._frame = av.VideoFrame(*size, "yuv420p")
        self._frame.time_base = 1 / rate
        self._converted: Bytes = np.empty((size[1] * 3 // 2, size[0]), np.uint8)
        self._planes = _planes(self._frame, self._converted)
        self._next = 0
        self._released = False

    def write(self, image: Bytes, times: int = 1) -> None:
        """Append a picture.

        Args:
            image: (height, width, 3) uint8 BGR.
            times: For so many places of the constant rate.

        Raises:
            av.FFmpegError: Encoding has failed, or the file cannot be written.
        """
        cv2.cvtColor(image, cv2.COLOR_BGR2YUV_I420, dst=self._converted)
        # The encoder has copied the picture before when it returned. To wrap the converted one
        # itself would save 1 % of the time, but PyAV cuts a height that 4 does not divide.
        for plane, part in self._planes:
            np.copyto(plane, part)
        for _ in range(times):
            self._frame.pts = self._next
            self._next += 1
            self._container.mux(self._stream.encode(self._frame))

    def release(self) -> None:
        """Write what is left, and close the file; safe to repeat.

        Raises:
            av.FFmpegError: The file cannot be written.
        """
        if self._released:
            return
        self._released = True
        try:
            if self._next:
                self._container.mux(self._stream.encode(None))
        finally:
            self._container.close()


def _planes(frame: av.VideoFrame, converted: Bytes) -> list[tuple[Bytes, Bytes]]:
    """Pair each plane of a frame with the part of the converted picture that goes into it.

    Args:
        frame: In "yuv420p"; its lines may be longer than the picture.
        converted: (height * 3 / 2, width): the three planes one after the other, without gaps.

    Returns:
        Views of both, of the same shape.
    """
    pairs, flat, start = [], converted.reshape(-1), 0
    for plane in frame.planes:
        lines: Bytes = np.frombuffer(memoryview(plane), np.uint8).reshape(
            plane.height, plane.line_size
        )
        end = start + plane.height * plane.width
        part = flat[start:end].reshape(plane.height, plane.width)
        pairs.append((lines[:, : plane.width], part))
        start = end
    return pairs
