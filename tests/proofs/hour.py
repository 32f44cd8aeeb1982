"""Prove that an hour of frames costs no more at its end than at its start, in time and memory.

    python tests/proofs/hour.py [--minutes 60]

Simulated poses at 60 frames per second, as noisy as a pose model's. Two minutes of them are made
and then repeated, cut where the same foot touches the belt, so that the runner goes on running.
Prints one JSON line; exits 1 where cost or memory grows beyond what is allowed below.
"""

from __future__ import annotations

import argparse
import gc
import json
import os
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

from station.bench.pushing import plain_loop_ms, spoil
from station.bench.simulated import PX_PER_M, profile_of
from station.measure import GaitMeter
from station.simulate.gait import Runner
from station.simulate.parameters import GaitParameters
from station.simulate.trace import frame_times, poses, side_view
from station.values import Belt, Pose

FPS = 60.0
LOOP_S = 120.0
MOST_COST_RATIO = 1.2
"""Median cost per frame of the last sixth by that of the first (our own choice)."""
MOST_GROWTH_MB = 8.0
"""Of the process, from the end of the first sixth to the end (our own choice)."""


def loop_of_poses() -> tuple[list[Pose], int, int]:
    """Return poses from a left contact to a later one, how many frames that is, and its contacts.

    Lost frames are missing from the poses: their indices tell the frames.
    """
    way = GaitParameters()
    runner, view = Runner(way), side_view(way, "right", PX_PER_M)
    sequence = spoil(poses(runner, view, frame_times(FPS, LOOP_S)), PX_PER_M, 1)
    left = [t.t_contact_s for t in runner.truth() if t.side == "left" and t.t_contact_s > 0.0]
    first, end = round(left[0] * FPS), round(left[-1] * FPS)
    contacts = sum(left[0] <= t.t_contact_s < left[-1] for t in runner.truth())
    return [pose for pose in sequence if first <= pose.index < end], end - first, contacts


def resident_mb() -> float:
    """Return the memory that this process holds now."""
    gc.collect()
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 2**20


def main() -> int:
    """Push the hour and print the JSON line."""
    ask = argparse.ArgumentParser(description="An hour of frames through the measurement.")
    ask.add_argument(
        "--minutes", type=float, default=60.0, help="of stream time, 12 or more (default 60)"
    )
    minutes = ask.parse_args().minutes
    loop, length, contacts = loop_of_poses()
    way = GaitParameters()
    view = side_view(way, "right", PX_PER_M)
    meter = GaitMeter(profile_of(view), Belt(way.belt_mps))
    rounds = max(6, round(minutes * 60.0 * FPS / length))
    sixth = rounds // 6
    costs_s = np.full(rounds * len(loop), np.nan)  # all of it held from the start
    pushed = steps = 0
    early_mb = 0.0
    began_s = time.monotonic()
    for number in range(rounds):
        for pose in loop:
            index = number * length + pose.index - loop[0].index
            given = replace(pose, t_s=index / FPS, index=index)
            start_s = time.thread_time()
            seen = meter.push(given)
            costs_s[pushed] = time.thread_time() - start_s
            pushed += 1
            steps += len(seen.steps)
        if number + 1 == sixth:
            early_mb = resident_mb()
        newest_ms = 1000.0 * float(np.median(costs_s[pushed - len(loop) : pushed]))
        told = f"round {number + 1} of {rounds}: {newest_ms:.3f} ms a frame, {resident_mb():.1f} MB"
        print(told, file=sys.stderr, flush=True)
    steps += len(meter.finish().steps)
    late_mb = resident_mb()
    part = sixth * len(loop)
    first_ms, last_ms = (1000.0 * float(np.median(c)) for c in (costs_s[:part], costs_s[-part:]))
    good = last_ms <= MOST_COST_RATIO * first_ms and late_mb - early_mb <= MOST_GROWTH_MB
    print(
        json.dumps(
            {
                "proof": "hour",
                "holds": good,
                "minutes": round(rounds * length / FPS / 60.0, 2),
                "frames": pushed,
                "true_contacts": rounds * contacts,
                "steps": steps,
                "first_sixth_ms": round(first_ms, 4),
                "last_sixth_ms": round(last_ms, 4),
                "ratio": round(last_ms / first_ms, 3),
                "longest_frame_ms": round(1000.0 * float(costs_s.max()), 2),
                "after_first_sixth_mb": round(early_mb, 1),
                "at_end_mb": round(late_mb, 1),
                "growth_mb": round(late_mb - early_mb, 2),
                "plain_loop_ms": round(plain_loop_ms(), 3),
                "wall_s": round(time.monotonic() - began_s, 1),
            }
        )
    )
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
