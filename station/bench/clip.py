"""A rendered clip with exact truth, through the real pose model."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from station.bench.pixels import find_poses
from station.bench.pushing import measure
from station.bench.result import Result
from station.bench.score import score
from station.clock import StreamClock
from station.errors import BadInput
from station.measure import GaitMeter
from station.ports import EndOfStream
from station.see.clip import ClipSource
from station.values import Belt, Facing, Frame, TrueStep, ViewProfile

FOLDER = "clips"
"""Of the clips, within a folder of recorded data."""
_FACINGS: dict[str, Facing] = {"left": "left", "right": "right"}


@dataclass(frozen=True, slots=True)
class Clip:
    """A video file with what is known of it."""

    path: Path
    fps: float
    profile: ViewProfile
    belt: Belt
    contacts: tuple[TrueStep, ...]
    """As the drawn shoe reaches the belt; in order of time."""

    @property
    def name(self) -> str:
        """What it is called in tables."""
        return f"rendered clip {self.path.stem}"


def clips(folder: Path) -> list[Path]:
    """Return the video files in a folder that come with their truth, a JSON file each."""
    return sorted(p for p in folder.glob("*.mp4") if p.with_suffix(".json").is_file())


def read_clip(path: Path) -> Clip:
    """Read what is known of a clip.

    Args:
        path: The video file; the truth lies beside it, with the suffix `.json`.

    Raises:
        BadInput: The truth is missing or not what it should be.
    """
    beside = path.with_suffix(".json")
    try:
        told: dict[str, Any] = json.loads(beside.read_text(encoding="utf-8"))
        a, b = told["belt_line"]
        profile = ViewProfile(
            _FACINGS[told["direction"]],
            float(told["px_per_m"]),
            ((float(a[0]), float(a[1])), (float(b[0]), float(b[1]))),
            int(told["width"]),
            int(told["height"]),
        )
        contacts = tuple(
            TrueStep(
                float(c["touch"]["t"]),
                float(c["t_to"]),
                c["side"],
                float(c["touch"]["ankle_ahead_of_knee_m"]),
                float(c["touch"]["shank_angle_deg"]),
            )
            for c in told["contacts"]
        )
        belt = Belt(float(told["belt_speed_mps"]))
        return Clip(path, float(told["fps"]), profile, belt, contacts)
    except OSError as error:
        raise BadInput(f"{beside} cannot be read: {error.strerror or error}") from error
    except (ValueError, KeyError, TypeError, IndexError) as error:
        raise BadInput(f"{beside} is not a clip's truth: {type(error).__name__} {error}") from error


def clip_frames(path: Path) -> Iterator[Frame]:
    """Yield a clip's pictures, the first at 0 s."""
    source = ClipSource(path)
    source.start(StreamClock(), paced=False)
    try:
        while True:
            frame = source.receive(0.0)
            if frame is not None:
                yield frame
    except EndOfStream:
        pass
    finally:
        source.stop()


def run_clip(path: Path) -> Result:
    """Find the poses with the real model, measure and score them.

    Args:
        path: The video file, its truth beside it.

    Raises:
        BadInput: The clip or its truth cannot be used.
    """
    clip = read_clip(path)
    found = find_poses(clip_frames(path), clip.profile, clip.belt)
    done = measure(GaitMeter(clip.profile, clip.belt), found.poses)
    judged = score(done.steps, clip.contacts, 0.0, found.poses[-1].t_s)
    return Result(clip.name, clip.fps, judged, done.cost_ms)
