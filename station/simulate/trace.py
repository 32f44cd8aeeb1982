"""Poses without pixels: the simulated runner seen by a perfect tracker, and ways to spoil poses.

The spoilers take any sequence of poses, real ones too, and are seeded.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from station.simulate.gait import Runner
from station.simulate.parameters import GaitParameters
from station.values import LANDMARK_INDEX, LEG_PARTS, Facing, Pose, View

LOWER_LEG: tuple[str, ...] = ("ankle", "heel", "foot_index")


def side_view(
    parameters: GaitParameters,
    faces: Facing = "right",
    px_per_m: float = 360.0,
    width: int = 1280,
    height: int = 720,
    roll_deg: float = 0.0,
) -> View:
    """Build a side view in which the runner is well in the picture, with the belt's own rise."""
    return View(px_per_m, faces, (0.5 * width, 0.89 * height), roll_deg, parameters.belt_rise_deg)


def frame_times(fps: float, seconds: float, uneven: float = 0.0, seed: int = 1) -> list[float]:
    """Return frame times from 0, in seconds.

    Args:
        fps: Frames per second, 24 to 240.
        seconds: How long.
        uneven: Each frame is off by up to this share of a frame, 0 to 0.45.
        seed: Of the unevenness.

    Raises:
        ValueError: A rate or unevenness out of range.
    """
    if not 24.0 <= fps <= 240.0:
        raise ValueError(f"fps is {fps}; allowed: 24 to 240")
    if not 0.0 <= uneven <= 0.45:
        raise ValueError(f"uneven is {uneven}; allowed: 0 to 0.45 of a frame")
    count = int(seconds * fps + 1e-9)
    off = np.random.default_rng(seed).uniform(-uneven, uneven, count)
    return [float(t) for t in np.maximum((np.arange(count) + off) / fps, 0.0)]


def poses(
    runner: Runner, view: View, times_s: Iterable[float], width: int = 1280, height: int = 720
) -> Iterator[Pose]:
    """Yield the runner's exact pose at each time.

    Args:
        runner: Asked in order of time; events may be sent to it between poses.
        view: The camera's view.
        times_s: Rising, seconds.
        width: Image width, pixels.
        height: Image height, pixels.
    """
    for index, t_s in enumerate(times_s):
        yield runner.figure_at(t_s).to_pose(view, index, width, height)


def add_noise(
    sequence: Iterable[Pose], noise_m: float, px_per_m: float, seed: int = 1
) -> Iterator[Pose]:
    """Yield the poses with independent Gaussian noise on every landmark.

    Args:
        sequence: The poses.
        noise_m: Standard deviation in each direction, metres at the runner's plane.
        px_per_m: Image scale.
        seed: Of the noise.
    """
    rng = np.random.default_rng(seed)
    for pose in sequence:
        yield replace(pose, xy_px=pose.xy_px + rng.normal(0.0, noise_m * px_per_m, (33, 2)))


@dataclass(frozen=True, slots=True, eq=False)
class Spoiled:
    """Poses with the truth of what was done to them."""

    poses: tuple[Pose, ...]
    touched: tuple[bool, ...]
    """For each pose whether it was spoiled."""


def swap_legs(
    sequence: Iterable[Pose],
    share: float,
    seed: int = 1,
    longest: int = 4,
    parts: Sequence[str] = LEG_PARTS,
) -> Spoiled:
    """Swap left and right legs in bursts, as a pose model does from the side.

    Args:
        sequence: The poses.
        share: Share of frames swapped on average, 0 to 0.5.
        seed: Of the bursts.
        longest: A burst lasts 1 to this many frames, evenly spread.
        parts: Which landmarks of the leg are swapped (`LOWER_LEG`: from the ankle down).

    Raises:
        ValueError: A share out of range.
    """
    if not 0.0 <= share <= 0.5:
        raise ValueError(f"share is {share}; allowed: 0 to 0.5")
    order = np.arange(33)
    for part in parts:
        a, b = LANDMARK_INDEX[f"left_{part}"], LANDMARK_INDEX[f"right_{part}"]
        order[a], order[b] = b, a
    given = tuple(sequence)
    touched = np.zeros(len(given), dtype=bool)
    if share > 0.0:
        rng = np.random.default_rng(seed)
        gap = 0.5 * (1 + longest) * (1.0 - share) / share
        at = 0
        while at < len(given):
            at += int(rng.geometric(1.0 / max(gap, 1.0)))
            burst = int(rng.integers(1, longest + 1))
            touched[at : at + burst] = True
            at += burst
    spoiled = tuple(
        replace(pose, xy_px=pose.xy_px[order], visibility=pose.visibility[order]) if hit else pose
        for pose, hit in zip(given, touched, strict=True)
    )
    return Spoiled(spoiled, tuple(bool(hit) for hit in touched))


def lose(sequence: Iterable[Pose], share: float, seed: int = 1) -> Spoiled:
    """Leave out frames at random; `touched` tells for each given pose whether it was lost.

    Args:
        sequence: The poses.
        share: Share of frames lost on average, 0 to 1.
        seed: Of the losses.
    """
    given = tuple(sequence)
    lost = np.random.default_rng(seed).random(len(given)) < share
    kept = tuple(pose for pose, gone in zip(given, lost, strict=True) if not gone)
    return Spoiled(kept, tuple(bool(gone) for gone in lost))


def blank(sequence: Iterable[Pose], stretches_s: Sequence[tuple[float, float]]) -> Spoiled:
    """Show nobody in some stretches of time.

    Args:
        sequence: The poses.
        stretches_s: From (included) and to (excluded), seconds.
    """
    given = tuple(sequence)
    gone = tuple(any(a <= pose.t_s < b for a, b in stretches_s) for pose in given)
    shown = tuple(
        Pose.nobody(pose.t_s, pose.index, pose.width, pose.height) if empty else pose
        for pose, empty in zip(given, gone, strict=True)
    )
    return Spoiled(shown, gone)
