"""The clip that the bench's speed is measured on: drawn once, with the runner's exact steps."""

from __future__ import annotations

from pathlib import Path

from station.clock import StreamClock
from station.ports import EndOfStream
from station.show.recorder import VideoRecorder
from station.simulate.gait import Runner
from station.simulate.parameters import GaitParameters
from station.simulate.picture import demo_view
from station.simulate.source import SimulatedSource

WIDTH, HEIGHT = 1280, 720
FPS = 60.0
RATE_SPM, SHANK_DEG = 172.0, 9.0
"""Every landing is ahead of the bench's limit of 4 deg, so that cues come."""


def draw_clip(path: Path, seconds: float) -> None:
    """Draw a simulated runner into a video file, 1280 x 720 at 60 pictures a second.

    Args:
        path: Ends in `.mp4`.
        seconds: How long.

    Raises:
        BadInput: It cannot be written.
        StationError: Encoding has failed.
    """
    runner = Runner(GaitParameters(rate_spm=RATE_SPM, shank_deg=SHANK_DEG))
    source = SimulatedSource(runner, demo_view(WIDTH, HEIGHT), WIDTH, HEIGHT, FPS, seconds)
    source.start(StreamClock(), paced=False)
    video = VideoRecorder(path, WIDTH, HEIGHT, FPS)
    try:
        while True:
            frame = source.receive(0.0)
            if frame is not None:
                video.write(frame.t_s, frame.image)
    except EndOfStream:
        pass
    finally:
        source.stop()
        video.close()
