"""The one place where the station's eyes get OpenCV from, quiet and held to one thread.

OpenCV's own worker threads fight with the pose model for the processor (two cores are full near 60
frames per second), so they are switched off here. Its and FFmpeg's messages on the error stream
say nothing that a user can act on: every failure they tell of also shows as a missing frame.
"""

from __future__ import annotations

import os

from station.errors import DeviceTrouble

os.environ.setdefault("OPENCV_LOG_LEVEL", "SILENT")
os.environ.setdefault("OPENCV_FFMPEG_LOGLEVEL", "-8")  # read when the first clip is opened
os.environ.setdefault("OPENCV_VIDEOIO_V4L_SELECT_TIMEOUT", "1")  # s a silent camera may block

try:
    import cv2
except ImportError as error:  # the wheel links libGL and glib, which bare servers do not have
    raise DeviceTrouble(
        f"OpenCV cannot be loaded ({error}). On Debian or Ubuntu: "
        "apt install libgl1 libglib2.0-0; elsewhere install the same two libraries. "
        "If they are there, reinstall opencv-contrib-python and remove opencv-python."
    ) from error

cv2.setNumThreads(1)
cv2.setLogLevel(0)  # where something else imported OpenCV before the variable above was set

__all__ = ["cv2"]
