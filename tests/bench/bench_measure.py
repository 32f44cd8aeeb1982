"""Accuracy and cost of the measurement on simulated runners, and on the real trial where it lies.

    python tests/bench/bench_measure.py

Prints a table and one JSON line. Noise 10 mm, 15 % of frames with swapped legs, 2 % lost. Cost is
given in thread time per frame, its ratio to a plain Python loop of this machine beside it.
"""

from __future__ import annotations

import csv
import json
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

from station.measure import GaitMeter
from station.measure.spring_mass import travel_m
from station.ports import EndOfStream
from station.see.trace import TraceSource
from station.simulate.gait import Runner
from station.simulate.parameters import GaitParameters
from station.simulate.trace import add_noise, frame_times, lose, poses, side_view, swap_legs
from station.values import Belt, Pose, Step, ViewProfile

BASE = GaitParameters()
SECONDS = 15.0
RUNNERS = {
    "2 m/s": replace(BASE, belt_mps=2.0, rate_spm=155.0),
    "2.7 m/s": BASE,
    "4.5 m/s": replace(BASE, belt_mps=4.5, rate_spm=180.0),
    "5.5 m/s": replace(BASE, belt_mps=5.5, rate_spm=190.0),
    "heel 20 deg": replace(BASE, foot_deg=20.0),
    "forefoot -10 deg": replace(BASE, foot_deg=-10.0),
    "reach 15 deg": replace(BASE, shank_deg=15.0),
    "hops 1.2 m/s": replace(BASE, kind="hop", belt_mps=1.2, foot_deg=-5.0),
}
True_ = tuple[float, float, str, float]
Row = dict[str, object]


def spoiled(sequence: list[Pose], px_per_m: float) -> list[Pose]:
    noisy = add_noise(sequence, 0.010, px_per_m, 1)
    return list(lose(swap_legs(noisy, 0.15, 1).poses, 0.02, 1).poses)


def measured(meter: GaitMeter, sequence: list[Pose]) -> tuple[list[Step], list[float]]:
    steps: list[Step] = []
    costs: list[float] = []
    for pose in sequence:
        began = time.thread_time()
        steps += meter.push(pose).steps
        costs.append(time.thread_time() - began)
    return [*steps, *meter.finish().steps], costs


def travels_mm(steps: list[Step]) -> list[float | None]:
    """Up-down travel as seen, and as contact and flight time alone say it should be."""
    told = [
        (1000.0 * s.vertical_oscillation_m, 1000.0 * travel_m(s.contact_s, s.flight_s))
        for s in steps
        if s.vertical_oscillation_m and s.contact_s and s.flight_s and s.flight_s > 0.0
    ]
    return [round(float(v), 1) for v in np.median(told, axis=0)] if told else [None, None]


def judged(name: str, steps: list[Step], true: list[True_], costs: list[float]) -> Row:
    last_s = true[-1][0]
    steps = [s for s in steps if s.t_contact_s < last_s + 0.1]
    pairs = []
    free = list(steps)
    for contact in true:
        near = min(free, key=lambda s: abs(s.t_contact_s - contact[0]), default=None)
        if near is not None and abs(near.t_contact_s - contact[0]) < 0.08:
            pairs.append((near, contact))
            free.remove(near)
    touch = np.array([1000.0 * (s.t_contact_s - t[0]) for s, t in pairs])
    leave = np.array([1000.0 * (s.t_toe_off_s - t[1]) for s, t in pairs if s.t_toe_off_s])
    shank = np.array([s.shank_deg - t[3] for s, t in pairs if s.shank_deg is not None])

    def spread(values: np.ndarray) -> list[float | None]:
        if not len(values):
            return [None, None]
        return [round(float(np.median(values)), 2), round(float(values.std()), 2)]

    return {
        "runner": name,
        "contacts": len(true),
        "missed": len(true) - len(pairs),
        "invented": len(free),
        "wrong side": sum(s.side != t[2] for s, t in pairs),
        "contact ms": spread(touch),
        "toe-off ms": spread(leave),
        "shank deg": spread(shank),
        "travel mm, a spring's": travels_mm(steps),
        "cost ms": round(1000.0 * float(np.median(costs)), 3),
    }


def simulated(name: str, way: GaitParameters, fps: float) -> Row:
    runner, view = Runner(way), side_view(way, "right", 300.0)
    sequence = spoiled(list(poses(runner, view, frame_times(fps, SECONDS))), 300.0)
    ends = view.to_image(np.array([[-0.8, 0.0], [0.8, 0.0]]))
    line = ((float(ends[0, 0]), float(ends[0, 1])), (float(ends[1, 0]), float(ends[1, 1])))
    meter = GaitMeter(ViewProfile("right", 300.0, line, 1280, 720), Belt(way.belt_mps))
    steps, costs = measured(meter, sequence)
    true = [
        (t.t_contact_s, t.t_toe_off_s, t.side, t.shank_deg)
        for t in runner.truth()
        if t.t_toe_off_s < SECONDS - 0.12
    ]
    return judged(f"{name}, {fps:g} fps", steps, true, costs)


def real_trial(folder: Path, every: int) -> Row:
    source = TraceSource(folder / "trace.csv")
    source.start()
    sequence: list[Pose] = []
    while True:
        try:
            sequence.append(source.receive())
        except EndOfStream:
            break
    with (folder / "contacts.csv").open(encoding="utf-8") as file:
        true = [
            (float(r["t_contact_s"]), float(r["t_toe_off_s"]), r["side"], float(r["shank_deg"]))
            for r in csv.DictReader(file)
        ]
    profile = ViewProfile("right", 360.0, ((192.0, 640.0), (1088.0, 640.0)), 1280, 720)
    steps, costs = measured(GaitMeter(profile, Belt(2.5)), spoiled(sequence[::every], 360.0))
    return judged(f"force-plate trial, {60 // every} fps", steps, true, costs)


def plain_loop_ms() -> float:
    """Time a fixed piece of plain Python, so that costs of two machines can be compared."""
    took = []
    for _ in range(9):
        began = time.thread_time()
        sum(i * i for i in range(20_000))
        took.append(time.thread_time() - began)
    return 1000.0 * float(np.median(took))


def main() -> int:
    """Print the table and the JSON line."""
    rows = [simulated(name, way, fps) for name, way in RUNNERS.items() for fps in (30.0, 60.0)]
    folder = Path(__file__).parents[2].parent / "shared" / "data" / "treadmill_running"
    if folder.is_dir():
        rows += [real_trial(folder, 1), real_trial(folder, 2)]
    else:
        print("the real trial is not there: left out")
    for row in rows:
        print("  ".join(f"{key} {value}" for key, value in row.items()))
    print(json.dumps({"bench": "measure", "plain_loop_ms": plain_loop_ms(), "rows": rows}))
    return 0


if __name__ == "__main__":
    sys.exit(main())
