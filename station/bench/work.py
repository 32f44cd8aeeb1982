"""What the bench has to do, and doing it in several processes at once."""

from __future__ import annotations

import multiprocessing
import signal
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from station.bench import clip, trial
from station.bench.cells import Cell
from station.bench.result import Result
from station.bench.simulated import run_cell
from station.errors import BadInput

Job = Callable[[], Result]
"""One run; it can be sent to another process."""


@dataclass(frozen=True, slots=True)
class Data:
    """Recorded data that the bench can use."""

    trial_folder: Path | None
    clips: tuple[Path, ...]


def find_data(folder: Path) -> Data:
    """Look for recorded data in a folder.

    Args:
        folder: Holds the folders `treadmill_running` (a trial) and `clips`, or one of them, or is
            itself such a folder.

    Raises:
        BadInput: There is no such folder, or nothing in it that can be used.
    """
    allowed = (
        f"allowed is a folder with {trial.FOLDER}/{trial.TRACE} and {trial.CONTACTS}, or with "
        f"{clip.FOLDER}/*.mp4 and a .json of the same name beside each"
    )
    if not folder.is_dir():
        raise BadInput(f"there is no folder {folder}; {allowed}")
    places = (folder / trial.FOLDER, folder)
    found = next((place for place in places if trial.is_there(place)), None)
    videos = [path for place in (folder / clip.FOLDER, folder) for path in clip.clips(place)]
    if found is None and not videos:
        raise BadInput(f"{folder} holds no recorded data; {allowed}")
    return Data(found, tuple(videos))


def cell_jobs(cells: Sequence[Cell], seconds: float) -> list[Job]:
    """Return the runs of simulated runners."""
    return [partial(run_cell, cell, seconds) for cell in cells]


def trial_jobs(folder: Path, seeds: tuple[int, ...] = trial.SEEDS) -> list[Job]:
    """Return the runs of a recorded trial."""
    return [partial(trial.run_trial, one) for one in trial.trials(folder, seeds)]


def clip_jobs(paths: Sequence[Path]) -> list[Job]:
    """Return the runs of rendered clips."""
    return [partial(clip.run_clip, path) for path in paths]


def run_all(jobs: Sequence[Job], processes: int) -> Iterator[tuple[int, Result]]:
    """Run all, and yield each result with its place among the jobs, as they become ready.

    Args:
        jobs: What to do.
        processes: How many at once; 1: here, in this process.

    Raises:
        BadInput: Recorded data cannot be used; nothing is left running then, as after Ctrl-C.
    """
    if min(processes, len(jobs)) <= 1:
        for place, job in enumerate(jobs):
            yield place, job()
        return
    pool = ProcessPoolExecutor(
        min(processes, len(jobs)),
        mp_context=multiprocessing.get_context("spawn"),  # forks of a threaded process may hang
        initializer=_leave_ctrl_c_to_the_parent,
    )
    try:
        places: dict[Future[Result], int] = {pool.submit(job): i for i, job in enumerate(jobs)}
        for done in as_completed(places):
            yield places[done], done.result()
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _leave_ctrl_c_to_the_parent() -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
