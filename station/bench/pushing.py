"""Poses through the measurement, each timed; and poses spoiled as a pose model spoils them."""

from __future__ import annotations

import time
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from station.bench.bounds import VIEW_LEARNED_S
from station.measure import GaitMeter
from station.simulate.trace import add_noise, lose, swap_legs
from station.values import Pose, Step, View

NOISE_M = 0.010
SWAPPED = 0.15
LOST = 0.02
_LOOP = 20_000


@dataclass(frozen=True, slots=True)
class Measured:
    """What the measurement made of a sequence of poses."""

    steps: tuple[Step, ...]
    cost_ms: float
    """Median thread time of one frame."""
    view: View | None
    """As known 10 s after the first pose, or at the end of a shorter sequence."""


def measure(meter: GaitMeter, sequence: Iterable[Pose]) -> Measured:
    """Push all poses (one or more) and time each."""
    steps: list[Step] = []
    costs_s: list[float] = []
    view = None
    judge_s: float | None = None
    for pose in sequence:
        began_s = time.thread_time()
        seen = meter.push(pose)
        costs_s.append(time.thread_time() - began_s)
        steps += seen.steps
        judge_s = pose.t_s + VIEW_LEARNED_S if judge_s is None else judge_s
        if pose.t_s <= judge_s:
            view = seen.view or view
    steps += meter.finish().steps
    return Measured(tuple(steps), 1000.0 * float(np.median(costs_s)), view)


def spoil(sequence: Iterable[Pose], px_per_m: float, seed: int) -> list[Pose]:
    """Add 10 mm of noise, swap the legs in 15 % of frames, in bursts, and lose 2 %."""
    noisy = add_noise(sequence, NOISE_M, px_per_m, seed)
    return list(lose(swap_legs(noisy, SWAPPED, seed).poses, LOST, seed).poses)


def plain_loop_ms() -> float:
    """Time a fixed piece of plain Python, so that costs of two machines can be compared."""
    took_s = []
    for _ in range(9):
        began_s = time.thread_time()
        sum(i * i for i in range(_LOOP))
        took_s.append(time.thread_time() - began_s)
    return 1000.0 * float(np.median(took_s))
