"""One cell of the grid: run the measurement on it and score it."""

from __future__ import annotations

import time
from dataclasses import dataclass

import numpy as np

from station.bench.cells import Cell
from station.bench.score import Score, score
from station.measure import GaitMeter
from station.simulate.gait import Runner
from station.simulate.trace import add_noise, frame_times, lose, poses, side_view, swap_legs
from station.values import Belt, Pose, Step, View, ViewProfile

NOISE_M = 0.010
SWAPPED = 0.15
LOST = 0.02
PX_PER_M = 300.0
_LEARNING_S = 3.0
_END_S = 0.15


@dataclass(frozen=True, slots=True)
class Measured:
    """What the measurement made of a sequence of poses."""

    steps: tuple[Step, ...]
    cost_ms: float
    """Median thread time of one frame."""
    view: View | None


def measure(meter: GaitMeter, sequence: list[Pose]) -> Measured:
    """Push all poses and time each."""
    steps: list[Step] = []
    costs: list[float] = []
    view = None
    for pose in sequence:
        began = time.thread_time()
        seen = meter.push(pose)
        costs.append(time.thread_time() - began)
        steps += seen.steps
        view = seen.view or view
    steps += meter.finish().steps
    return Measured(tuple(steps), 1000.0 * float(np.median(costs)), view)


def spoil(sequence: list[Pose], px_per_m: float, seed: int) -> list[Pose]:
    """Add 10 mm of noise, swap the legs in 15 % of frames, in bursts, and lose 2 %."""
    noisy = add_noise(sequence, NOISE_M, px_per_m, seed)
    return list(lose(swap_legs(noisy, SWAPPED, seed).poses, LOST, seed).poses)


def profile_of(view: View) -> ViewProfile:
    """Return the bay profile that fits a view."""
    ends = view.to_image(view.plumb_on_belt(np.array([[-0.8, 0.0], [0.8, 0.0]])))
    line = ((float(ends[0, 0]), float(ends[0, 1])), (float(ends[1, 0]), float(ends[1, 1])))
    return ViewProfile(view.faces, view.px_per_m, line, 1280, 720, view.roll_deg)


@dataclass(frozen=True, slots=True)
class CellResult:
    """A cell with what came of it."""

    cell: Cell
    score: Score
    cost_ms: float
    scale_error: float | None
    """Learned scale by the true one, minus 1; None where it was given."""
    slope_error_deg: float | None


def run_cell(cell: Cell, seconds: float) -> CellResult:
    """Simulate the runner, spoil the poses, measure and score them."""
    way = cell.way
    runner = Runner(way)
    view = side_view(way, cell.faces, PX_PER_M, roll_deg=cell.roll_deg)
    exact = list(poses(runner, view, frame_times(cell.fps, seconds)))
    sequence = spoil(exact, PX_PER_M, cell.seed)
    profile = ViewProfile(roll_deg=cell.roll_deg) if cell.learned else profile_of(view)
    done = measure(GaitMeter(profile, Belt(way.belt_mps, way.incline_percent)), sequence)
    result = score(
        done.steps, runner.truth(), _LEARNING_S if cell.learned else 0.0, seconds - _END_S
    )
    scale = slope = None
    if cell.learned and done.view is not None:
        scale = done.view.px_per_m / PX_PER_M - 1.0
        slope = done.view.belt_rise_deg - view.belt_rise_deg
    return CellResult(cell, result, done.cost_ms, scale, slope)
