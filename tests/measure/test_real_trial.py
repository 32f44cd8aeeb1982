"""The measurement against a force plate: one real trial of treadmill running.

Fukuchi, Fukuchi & Duarte (2017), PeerJ 5:e3298, CC BY 4.0: 2.5 m/s, contact where the vertical
force crosses 50 N. Its poses are clean; noise, swapped legs and lost frames are added here.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from station.measure import GaitMeter
from station.measure.rhythm import step_rate_spm, usual_step_time_s
from station.ports import EndOfStream
from station.see.trace import TraceSource
from station.simulate.trace import add_noise, lose, swap_legs
from station.values import Belt, Floats, Landing, Pose, Step, ViewProfile

PROFILE = ViewProfile("right", 360.0, ((192.0, 640.0), (1088.0, 640.0)), 1280, 720)
BELT = Belt(2.5)


@dataclass(frozen=True)
class Contact:
    t_contact_s: float
    t_toe_off_s: float
    side: str
    shank_deg: float


@cache
def trial(folder: Path) -> tuple[list[Pose], list[Contact]]:
    source = TraceSource(folder / "treadmill_running" / "trace.csv")
    source.start()
    poses: list[Pose] = []
    while True:
        try:
            poses.append(source.receive())
        except EndOfStream:
            break
    with (folder / "treadmill_running" / "contacts.csv").open() as file:
        rows = list(csv.DictReader(file))
    contacts = [
        Contact(float(r["t_contact_s"]), float(r["t_toe_off_s"]), r["side"], float(r["shank_deg"]))
        for r in rows
    ]
    return poses, contacts


def measured(poses: list[Pose]) -> tuple[list[Landing], list[Step]]:
    meter = GaitMeter(PROFILE, BELT)
    landings: list[Landing] = []
    steps: list[Step] = []
    for pose in poses:
        seen = meter.push(pose)
        landings += seen.landings
        steps += seen.steps
    return landings, [*steps, *meter.finish().steps]


def spoiled(poses: list[Pose], seed: int) -> list[Pose]:
    noisy = add_noise(poses, 0.010, 360.0, seed)
    return list(lose(swap_legs(noisy, 0.15, seed).poses, 0.02, seed).poses)


@cache
def spoiled_trial(folder: Path, every: int, seed: int) -> tuple[list[Landing], list[Step]]:
    """Measure the whole trial, spoiled; half a minute of poses is worked through once."""
    return measured(spoiled(trial(folder)[0][::every], seed))


@pytest.mark.parametrize(
    ("every", "seed", "contact_ms", "contact_sd_ms"),
    [(1, 1, 8.0, 8.0), (1, 2, 8.0, 8.0), (2, 1, 10.0, 12.0), (2, 2, 10.0, 12.0)],
)
def test_steps_agree_with_the_force_plate(
    shared_data: Path, every: int, seed: int, contact_ms: float, contact_sd_ms: float
) -> None:
    _, contacts = trial(shared_data)
    _, steps = spoiled_trial(shared_data, every, seed)
    assert len(steps) == len(contacts)  # none missed, none invented
    off = errors([s.t_contact_s for s in steps], [c.t_contact_s for c in contacts])
    assert abs(np.median(off)) <= contact_ms / 1000.0
    assert off.std() <= contact_sd_ms / 1000.0
    right_side = np.mean([s.side == c.side for s, c in zip(steps, contacts, strict=True)])
    assert right_side >= 0.99
    shank = [
        s.shank_deg - c.shank_deg
        for s, c in zip(steps, contacts, strict=True)
        if s.shank_deg is not None
    ]
    assert len(shank) >= 0.95 * len(contacts)
    assert abs(np.median(shank)) <= 1.0
    assert np.std(shank) <= 2.0
    leaving = [
        s.t_toe_off_s - c.t_toe_off_s
        for s, c in zip(steps, contacts, strict=True)
        if s.t_toe_off_s is not None
    ]
    assert abs(np.median(leaving)) <= 0.012
    assert np.std(leaving) <= 0.012


@pytest.mark.parametrize("seed", [1, 2])
def test_step_rate_agrees_with_the_force_plate(shared_data: Path, seed: int) -> None:
    _, contacts = trial(shared_data)
    _, steps = spoiled_trial(shared_data, 1, seed)
    # As the station shows it: left and right steps differ, a median would be one or the other.
    measured_s = usual_step_time_s([s.step_time_s for s in steps if s.step_time_s])
    true_s = usual_step_time_s(np.diff([c.t_contact_s for c in contacts]).tolist())
    assert step_rate_spm(measured_s) == pytest.approx(step_rate_spm(true_s), abs=0.3)
    assert step_rate_spm(true_s) == pytest.approx(156.84, abs=0.02)  # from the force alone


@pytest.mark.parametrize("seed", [1, 2])
def test_a_verdict_is_due_in_80_ms_and_never_changes(shared_data: Path, seed: int) -> None:
    landings, steps = spoiled_trial(shared_data, 1, seed)
    judged = [m for m in landings if m.shank_deg is not None]
    assert max(m.t_verdict_s - m.t_contact_s for m in judged) <= 0.080
    told = {m.number: m.shank_deg for m in landings}
    assert all(told[s.number] == s.shank_at_verdict_deg for s in steps)


def test_a_trace_cut_anywhere_has_the_same_landings(shared_data: Path) -> None:
    poses = spoiled(trial(shared_data)[0], 1)
    whole, _ = spoiled_trial(shared_data, 1, 1)
    for cut in (400, 777):
        part, _ = measured(poses[:cut])
        assert part, cut
        assert part == whole[: len(part)], cut


def errors(found: list[float], true: list[float]) -> Floats:
    return np.asarray(found) - np.asarray(true)
