"""Prove the position guard's times on the simulated runner's own poses.

Three things: how long before the rear foot would leave the belt a runner who drifts back is warned,
with the belt's end known and not; that ten minutes of ordinary wander (15 cm to and fro) are not
warned of; and after how long nobody in view is answered. Poses carry 10 mm of noise; pixels and the
whole loop are the affair of `unattended_visit`.

    python tests/proofs/position_guard.py [--minutes 10] [--fps 30] [--mps 0.5]

Prints one JSON line; exits 1 where a bound does not hold.
"""

from __future__ import annotations

# First of all: it keeps numpy to one thread, as in `station run`.
import station  # noqa: F401

# isort: split

import json
import math
import sys
from collections.abc import Callable, Iterator
from itertools import product

import numpy as np
from kit.running import options

from station.coach.visit.position_guard import PositionGuard
from station.measure.whereabouts import Whereabouts, whereabouts
from station.simulate.gait import Runner
from station.simulate.parameters import GaitParameters
from station.simulate.picture import demo_view
from station.simulate.staging import StagedRunner

WIDTH, HEIGHT = 1280, 720
LEAD_S, UNSEEN_S, WANDER_M = 0.5, 1.0, 0.15
NOISE_M = 0.010
USUAL_S = 15.0
"""So long the runner keeps their place before a drift."""
ROOMS_M = (0.6, 0.75, 0.9)
"""Belt behind the rearmost that the feet go at the usual place."""
RUNNERS = ((1.55, 2.4, 160.0), (1.75, 2.9, 168.0), (1.95, 3.5, 176.0), (1.75, 4.2, 184.0))
"""Height, belt speed, step rate."""
VIEW = demo_view(WIDTH, HEIGHT, "right")
Place = Callable[[float], float]


def places(which: int, fps: float, seconds: float, place: Place) -> Iterator[
    tuple[StagedRunner, Whereabouts]
]:  # fmt: skip
    """Run with the hips' usual place moved as told; give where the runner is seen to be."""
    height_m, mps, spm = RUNNERS[which]
    gait = GaitParameters(
        belt_mps=mps, rate_spm=spm, height_m=height_m, wander_m=0.02, seed=which
    )  # fmt: skip
    runner = StagedRunner(lambda: Runner(gait))
    runner.act("run")
    rng = np.random.default_rng(which)
    for i in range(round(seconds * fps)):
        t_s = i / fps
        if i:
            runner.drift((place(t_s) - runner.place_m) * fps)
        pose = runner.figure_at(t_s).to_pose(VIEW, i, WIDTH, HEIGHT)
        pose.xy_px[:] += rng.normal(0.0, NOISE_M * VIEW.px_per_m, pose.xy_px.shape)
        yield runner, whereabouts(pose, VIEW)


def reach_m(which: int, fps: float) -> float:
    """Return how far the feet go back at the usual place."""
    for runner, _ in places(which, fps, 4.0, lambda t_s: 0.0):
        last = runner
    return last.leaves_in_s(0.0, -1.0)


def warned_before_s(which: int, fps: float, mps: float, room_m: float, known: bool) -> float:
    """Drift back; return how long before the rear foot leaves the belt it is warned of."""
    rear_m = reach_m(which, fps) + room_m
    guard = PositionGuard(-rear_m if known else None)
    drift: Place = lambda t_s: -mps * max(0.0, t_s - USUAL_S)  # noqa: E731
    for runner, where in places(which, fps, USUAL_S + room_m / mps + 2.0, drift):
        if guard.see(where) is not None:
            return -math.inf if where.t_s < USUAL_S else runner.leaves_in_s(rear_m, mps)
    return -math.inf


def wanders(seconds: float) -> dict[str, Place]:
    """Ways of wandering to and fro by 15 cm at most."""
    rng = np.random.default_rng(3)
    knots = np.clip(rng.normal(0.0, 0.08, math.ceil(seconds / 2.0) + 2), -WANDER_M, WANDER_M)
    at = 2.0 * np.arange(len(knots))
    return {
        "slow": lambda t_s: WANDER_M * math.sin(2.0 * math.pi * 0.05 * t_s),
        "quick": lambda t_s: WANDER_M * math.sin(2.0 * math.pi * 0.25 * t_s),
        "random": lambda t_s: float(np.interp(t_s, at, knots)),
    }


def unseen_after_s(fps: float) -> float:
    """Return after how long nobody in view is answered."""
    guard = PositionGuard(None)
    for _, where in places(1, fps, 10.0, lambda t_s: 0.0):
        guard.see(where)
    seen_s = where.t_s
    for i in range(1, round(5.0 * fps)):
        if guard.unseen(seen_s + i / fps, belt_may_run=True):
            return i / fps
    return math.inf


def main() -> int:
    """Run the proof; return the exit code."""
    asked = options("The position guard's times.", minutes=10.0, fps=30.0, mps=0.5)
    lead: dict[str, dict[str, float]] = {}
    for which, room_m, known in product(range(len(RUNNERS)), ROOMS_M, (True, False)):
        kind = "end_known" if known else "end_not_known"
        before_s = warned_before_s(which, asked.fps, asked.mps, room_m, known)
        name = "{:g}_m_at_{:g}_mps".format(*RUNNERS[which][:2])
        lead.setdefault(kind, {})[f"{name}_room_{room_m:g}_m"] = round(before_s, 2)
    seconds = 60.0 * asked.minutes
    false = {
        name: sum(
            guard.see(where) is not None for _, where in places(n + 1, asked.fps, seconds, place)
        )
        for n, (name, place) in enumerate(wanders(seconds).items())
        for guard in [PositionGuard(-reach_m(n + 1, asked.fps) - ROOMS_M[0])]
    }
    unseen_s = round(unseen_after_s(asked.fps), 2)
    least = {kind: min(one.values()) for kind, one in lead.items()}
    holds = min(least.values()) >= LEAD_S and not any(false.values()) and unseen_s <= UNSEEN_S
    told = {
        "proof": "position_guard", "holds": holds, "fps": asked.fps, "drift_mps": asked.mps,
        "least_lead_s": least, "lead_s": lead, "minutes_of_wander_each": asked.minutes,
        "false_warnings": false, "unseen_answered_s": unseen_s,
    }  # fmt: skip
    print(json.dumps(told))
    return 0 if holds else 1


if __name__ == "__main__":
    sys.exit(main())
