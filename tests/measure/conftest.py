from __future__ import annotations

import csv
from pathlib import Path

import pytest

from station.measure import GaitMeter
from station.ports import EndOfStream
from station.see.trace import TraceSource
from station.values import Belt, Pose, Step, ViewProfile


@pytest.fixture(scope="session")
def trial_folder(shared_data: Path) -> Path:
    """Return the folder of the force-plate trial, which `test_real_trial` describes."""
    return shared_data / "treadmill_running"


@pytest.fixture(scope="session")
def trial_poses(trial_folder: Path) -> list[Pose]:
    """Return the trial's first 15 s, at 60 frames per second."""
    source = TraceSource(trial_folder / "trace.csv")
    source.start()
    poses: list[Pose] = []
    try:
        while len(poses) < 900:
            poses.append(source.receive())
    except EndOfStream:
        pass
    finally:
        source.stop()
    return poses


@pytest.fixture(scope="session")
def trial_steps(trial_poses: list[Pose]) -> list[Step]:
    """Return the trial's steps as the station measures them."""
    profile = ViewProfile("right", 360.0, ((192.0, 640.0), (1088.0, 640.0)), 1280, 720)
    meter = GaitMeter(profile, Belt(2.5))
    seen = [meter.push(pose) for pose in trial_poses]
    return [step for o in [*seen, meter.finish()] for step in o.steps]


@pytest.fixture(scope="session")
def plate_times_s(trial_folder: Path) -> list[tuple[float, float]]:
    """Return contact and toe-off by the force plate, seconds."""
    with (trial_folder / "contacts.csv").open(encoding="utf-8") as file:
        return [(float(r["t_contact_s"]), float(r["t_toe_off_s"])) for r in csv.DictReader(file)]
