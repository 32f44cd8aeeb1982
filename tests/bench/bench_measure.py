"""Accuracy and cost of the measurement: `station bench` with the force-plate trial where it lies.

    python tests/bench/bench_measure.py

Prints what the command prints, then, as one more JSON line, whether a frame costs the same after a
minute as at the start.
"""

from __future__ import annotations

import json
import sys
import time
from pathlib import Path

import numpy as np

from station.bench.pushing import plain_loop_ms, spoil
from station.bench.simulated import PX_PER_M, profile_of
from station.commands.main import main as station
from station.measure import GaitMeter
from station.simulate.gait import Runner
from station.simulate.parameters import GaitParameters
from station.simulate.trace import frame_times, poses, side_view
from station.values import Belt

SECONDS = 60.0


def cost_over_time() -> dict[str, object]:
    """Return the median cost of a frame in each third of a minute."""
    way = GaitParameters()
    view = side_view(way, "right", PX_PER_M)
    meter = GaitMeter(profile_of(view), Belt(way.belt_mps))
    costs_s = []
    exact = poses(Runner(way), view, frame_times(60.0, SECONDS))
    for pose in spoil(exact, PX_PER_M, 1):
        began_s = time.thread_time()
        meter.push(pose)
        costs_s.append(time.thread_time() - began_s)
    thirds_ms = [1000.0 * float(np.median(third)) for third in np.array_split(costs_s, 3)]
    return {
        "bench": "cost over a minute",
        "thirds_ms": [round(ms, 3) for ms in thirds_ms],
        "last_by_first": round(thirds_ms[2] / thirds_ms[0], 3),
        "plain_loop_ms": round(plain_loop_ms(), 3),
    }


def main() -> int:
    """Run the command and the check of the cost."""
    # The clips beside the trial are left to bench_pixels, which tells more of them.
    folder = Path(__file__).parents[2].parent / "shared" / "data" / "treadmill_running"
    data = ["--data", str(folder)] if folder.is_dir() else []
    if not data:
        print("the force-plate trial is not there: left out")
    code = station(["bench", *data])
    print(json.dumps(cost_over_time()))
    return code


if __name__ == "__main__":
    sys.exit(main())
