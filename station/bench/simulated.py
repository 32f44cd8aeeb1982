"""One cell of the grid: run the measurement on it and score it."""

from __future__ import annotations

import numpy as np

from station.bench.bounds import VIEW_LEARNED_S, LearnedView
from station.bench.cells import Cell
from station.bench.pushing import measure, spoil
from station.bench.result import Result
from station.bench.score import score
from station.measure import GaitMeter
from station.simulate.gait import Runner
from station.simulate.trace import frame_times, poses, side_view
from station.values import Belt, View, ViewProfile

PX_PER_M = 300.0
SHORTEST_S = 5.0
"""Shorter runs hold too few contacts to tell anything."""
_LEARNING_S = 3.0
"""A view that has to be learned first costs the contacts until then."""
_END_S = 0.15


def profile_of(view: View) -> ViewProfile:
    """Return the bay profile that fits a view of 1280 x 720 pixels."""
    ends = view.to_image(view.plumb_on_belt(np.array([[-0.8, 0.0], [0.8, 0.0]])))
    line = ((float(ends[0, 0]), float(ends[0, 1])), (float(ends[1, 0]), float(ends[1, 1])))
    return ViewProfile(view.faces, view.px_per_m, line, 1280, 720, view.roll_deg)


def run_cell(cell: Cell, seconds: float) -> Result:
    """Simulate the runner, spoil the poses, measure and score them.

    Args:
        cell: The runner and the camera.
        seconds: How long, 5 or more.
    """
    way = cell.way
    runner = Runner(way)
    view = side_view(way, cell.faces, PX_PER_M, roll_deg=cell.roll_deg)
    sequence = spoil(poses(runner, view, frame_times(cell.fps, seconds)), PX_PER_M, cell.seed)
    profile = ViewProfile(roll_deg=cell.roll_deg) if cell.learned else profile_of(view)
    done = measure(GaitMeter(profile, Belt(way.belt_mps, way.incline_percent)), sequence)
    found = score(
        done.steps, runner.truth(), _LEARNING_S if cell.learned else 0.0, seconds - _END_S
    )
    learned = None
    if cell.learned and seconds >= VIEW_LEARNED_S:
        learned = LearnedView(None, None)
        if done.view is not None:
            learned = LearnedView(
                done.view.px_per_m / PX_PER_M - 1.0,
                done.view.belt_rise_deg - view.belt_rise_deg,
            )
    return Result(cell.name, cell.fps, found, done.cost_ms, learned)
