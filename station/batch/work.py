"""Analyses one recording in a process of its own, whose end cannot hurt the others."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from station import __version__
from station.batch.recordings import Recording

MARK_FILE = "batch.json"
"""In the folder of a recording's results: what it was made of. With it the recording is done."""
_TAIL = 400
Process = subprocess.Popen[str]


def _nobody(_process: Process) -> None:
    pass


@dataclass(frozen=True, slots=True)
class Job:
    """One recording to be analysed, as it is sent to whoever does it."""

    name: str
    words: tuple[str, ...]
    """The command's, after `python -m station`."""
    folder: str
    """Of the results; absolute, since another machine may work elsewhere in the same files."""
    made_of: str
    """Fingerprint of the recording, the options and the station's version."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one recording."""

    name: str
    exit_code: int
    """As of `station run`: 0 done, 2 nothing usable, 3 a device is missing, 1 a fault of ours; a
    negative one is the signal that ended its process."""
    message: str = ""
    """Why it failed."""
    before: bool = False
    """It was done in an earlier batch."""


def job_of(
    recording: Recording, out: Path, options: tuple[str, ...], own_options: tuple[str, ...]
) -> Job:
    """Return what is to be done with a recording.

    Args:
        recording: The clip or trace.
        out: The folder of all results.
        options: For every recording: the bay's.
        own_options: Where the recording has no plan of its own: plan or belt speed.
    """
    given = own_options
    if recording.plan is not None:
        given = ("--plan", str(recording.plan.resolve()))
    path = str(recording.path.resolve())
    first = ["replay", path]
    if recording.clip:
        first = ["run", "--source", path, "--fast", "--headless"]
    words = (*first, *options, *given)
    folder = str((out / recording.name).resolve())
    return Job(recording.name, words, folder, _made_of(recording, options, given))


def is_done(job: Job) -> bool:
    """Whether an earlier batch has done this very job."""
    try:
        mark = json.loads((Path(job.folder) / MARK_FILE).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return False
    return isinstance(mark, dict) and mark.get("made_of") == job.made_of


def analyse(job: Job, watch: Callable[[Process], None] = _nobody) -> Outcome:
    """Do one job, in this process or on another machine that sees the same files.

    The results appear as a whole: they are made in a folder beside, which then gets its name. What
    an earlier batch that was broken off or that had other options left there is replaced.

    Args:
        job: What is to be done.
        watch: Told of the process when it has begun, so that somebody can end it.

    Returns:
        The outcome; nothing is raised for a recording that cannot be used.
    """
    done = Path(job.folder)
    making = done.with_name(f".{done.name}.making")
    try:
        shutil.rmtree(making, ignore_errors=True)
        done.parent.mkdir(parents=True, exist_ok=True)
        # Its own process group: Ctrl-C is for the batch, which then ends them all.
        process = subprocess.Popen(
            [sys.executable, "-m", "station", *job.words, "--out", str(making)],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
            errors="replace",
            start_new_session=True,
        )
        watch(process)
        _, said = process.communicate()
        if process.returncode:
            return Outcome(
                job.name, process.returncode, _last_words(said, process.returncode, making)
            )
        mark = {"made_of": job.made_of, "name": job.name, "station": __version__}
        (making / MARK_FILE).write_text(json.dumps(mark, indent=1), encoding="utf-8")
        if (done / MARK_FILE).is_file():  # ours, and out of date
            shutil.rmtree(done)
        making.rename(done)
    except OSError as fault:
        where = fault.filename or job.folder
        return Outcome(job.name, 2, f"{where}: {fault.strerror or fault}")
    finally:
        shutil.rmtree(making, ignore_errors=True)
    return Outcome(job.name, 0)


def as_before(job: Job) -> Outcome:
    """Return the outcome of a job that needs not be done again."""
    return Outcome(job.name, 0, before=True)


def _made_of(recording: Recording, options: tuple[str, ...], given: tuple[str, ...]) -> str:
    """Return a fingerprint; files count by size and time of change, not by what is in them."""
    files = [recording.path]
    files += [Path(word) for word in (*options, *given) if os.path.isfile(word)]
    told = [[str(file), file.stat().st_size, file.stat().st_mtime_ns] for file in files]
    whole = json.dumps([__version__, recording.name, list(options), list(given), told])
    return hashlib.sha256(whole.encode()).hexdigest()


def _last_words(said: str, code: int, making: Path) -> str:
    """Return why a process failed: its own message, which `station` writes last."""
    _, mark, message = f"\n{said}".rpartition("\nstation: ")
    if mark:
        return message.strip().removesuffix(f"; what there is was written to {making}")
    if code < 0:
        return f"its process was ended by signal {-code}"
    return said.strip()[-_TAIL:] or "it failed without a word"
