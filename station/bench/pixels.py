"""Pictures through the real pose model and the measurement, as the station runs them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from station.measure import GaitMeter
from station.see.pose_model import MediapipePose
from station.values import Belt, Frame, Pose, ViewProfile

ANEW_GAP_S = 0.5
"""The model is not asked to detect afresh more often than this."""


@dataclass(frozen=True, slots=True)
class Found:
    """What the model found."""

    poses: tuple[Pose, ...]
    """One of each frame."""
    anew: int
    """How often it detected afresh because the measurement asked for it."""


def find_poses(frames: Iterable[Frame], profile: ViewProfile, belt: Belt) -> Found:
    """Find the pose of every frame; the model detects anew when the measurement asks for it.

    Args:
        frames: In order of time.
        profile: Of the bay that is shown.
        belt: What the belt is set to.
    """
    model = MediapipePose(threads=1)  # the same landmarks at every run
    meter = GaitMeter(profile, belt)
    poses: list[Pose] = []
    anew_s = float("-inf")
    try:
        for frame in frames:
            poses.append(model.find(frame))
            if meter.push(poses[-1]).detect_anew and frame.t_s - anew_s >= ANEW_GAP_S:
                model.detect_anew()
                anew_s = frame.t_s
    finally:
        model.close()
    return Found(tuple(poses), model.detected_anew)
