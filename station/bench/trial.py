"""A recorded trial of treadmill running with a force plate as truth: a trace, spoiled and scored.

Scale, belt line and speed are those of the trial beside the project: Fukuchi, Fukuchi & Duarte
(2017), PeerJ 5:e3298, CC BY 4.0, 2.5 m/s, contact where the vertical force crosses 50 N.
"""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass
from pathlib import Path

from station.bench.pushing import measure, spoil
from station.bench.result import Result
from station.bench.score import score
from station.errors import BadInput
from station.measure import GaitMeter
from station.ports import EndOfStream
from station.see.trace import TraceSource
from station.values import Belt, Pose, Side, TrueStep, ViewProfile

FOLDER = "treadmill_running"
"""Of the trial, within a folder of recorded data."""
TRACE = "trace.csv"
CONTACTS = "contacts.csv"
PROFILE = ViewProfile("right", 360.0, ((192.0, 640.0), (1088.0, 640.0)), 1280, 720)
PX_PER_M = 360.0
BELT = Belt(2.5)
FPS = 60.0
SEEDS = (1, 2, 3, 4, 5)
EVERY = (1, 2)
"""Every frame, and every other one: 60 and 30 frames per second."""
_NUMBERS = ("t_contact_s", "t_toe_off_s", "ankle_ahead_m", "shank_deg")


@dataclass(frozen=True, slots=True)
class Trial:
    """One way to spoil the recorded trial."""

    folder: Path
    """Holds `trace.csv` and `contacts.csv`."""
    every: int = 1
    """Which frames are used: each, every other one, ..."""
    seed: int = 1
    """Of noise, swapped legs and lost frames."""

    @property
    def fps(self) -> float:
        """Frames per second that are used."""
        return FPS / self.every

    @property
    def name(self) -> str:
        """What it is called in tables."""
        return f"force plate, {self.fps:g} fps, seed {self.seed}"


def is_there(folder: Path) -> bool:
    """Return whether a folder holds a trial."""
    return (folder / TRACE).is_file() and (folder / CONTACTS).is_file()


def trials(folder: Path, seeds: tuple[int, ...] = SEEDS) -> list[Trial]:
    """Return all ways to spoil the trial in a folder."""
    return [Trial(folder, every, seed) for every in EVERY for seed in seeds]


def run_trial(trial: Trial) -> Result:
    """Read the trace, spoil its poses, measure and score them.

    Raises:
        BadInput: A file is missing, or not what it should be.
    """
    clean = read_poses(trial.folder)[:: trial.every]
    done = measure(GaitMeter(PROFILE, BELT), spoil(clean, PX_PER_M, trial.seed))
    found = score(done.steps, read_contacts(trial.folder), 0.0, clean[-1].t_s)
    return Result(trial.name, trial.fps, found, done.cost_ms)


def read_poses(folder: Path) -> list[Pose]:
    """Read a trial's poses; raise BadInput as a trace does."""
    source = TraceSource(folder / TRACE)
    source.start()
    poses: list[Pose] = []
    try:
        while True:
            poses.append(source.receive())
    except EndOfStream:
        return poses
    finally:
        source.stop()


def read_contacts(folder: Path) -> tuple[TrueStep, ...]:
    """Read a trial's true contacts, in order of time.

    Raises:
        BadInput: The file is missing, no CSV text, or has columns or values that are not allowed.
    """
    path = folder / CONTACTS
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            rows = list(csv.DictReader(file))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise BadInput(f"{path} cannot be read: {error}") from error
    found: list[TrueStep] = []
    for line, row in enumerate(rows, 2):
        try:
            contact_s, toe_off_s, ahead_m, shank_deg = (float(row[name]) for name in _NUMBERS)
            if not all(map(math.isfinite, (contact_s, toe_off_s, ahead_m, shank_deg))):
                raise ValueError("not a number")
            side: dict[str, Side] = {"left": "left", "right": "right"}
            found.append(TrueStep(contact_s, toe_off_s, side[row["side"]], ahead_m, shank_deg))
        except (KeyError, TypeError, ValueError) as error:
            raise BadInput(
                f"{path}, line {line}: {error}; allowed are numbers for {', '.join(_NUMBERS)}, and "
                "left or right for side"
            ) from error
    if not found:
        raise BadInput(f"{path} holds no contact; each is one row")
    return tuple(sorted(found, key=lambda step: step.t_contact_s))
