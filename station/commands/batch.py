"""`station batch`: many recorded clips and traces, as fast as the machine's cores go."""

from __future__ import annotations

import argparse
import os
from dataclasses import dataclass
from pathlib import Path

from rich.markup import escape

from station.batch.engine import workers
from station.batch.recordings import NEEDED, Found, find_recordings
from station.batch.table import write_table
from station.batch.work import Job, Outcome, as_before, is_done, job_of
from station.commands import options
from station.commands.telling import OutConsole, ProgressLine
from station.errors import BadInput
from station.keep import owner_only

MOST_JOBS = 256
RESULTS = "results"


def add_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "batch",
        description="Analyse every recorded clip and trace in a folder and the folders in it, "
        "several at once. Each gets a folder of results like that of 'station run' or 'station "
        "replay', and a row in batch.csv. A recording that cannot be used is told and does not "
        "stop the rest. Called again, it does only what is new, was changed, or failed. A plan "
        "beside a recording (NAME.plan.toml beside NAME.csv) goes before --plan.",
        epilog="exit code: 0 when every recording was analysed, 2 when one or more were not",
    )
    parser.add_argument("folder", metavar="FOLDER", type=Path, help="where the recordings lie")
    options.add_bay_and_plan(parser)
    options.add_out(parser, f"{RESULTS} in FOLDER")
    parser.add_argument(
        "--jobs", type=_jobs, metavar="J", help="recordings at once (default: one per core)"
    )
    parser.add_argument(
        "--scheduler",
        metavar="ADDRESS",
        help="address of a running Dask scheduler, such as tcp://10.0.0.5:8786, whose workers do "
        "the work; they need the station installed and the same files under the same paths",
    )
    parser.set_defaults(run=run)


@dataclass(slots=True)
class _Batch:
    """What is to be done, and what became of it so far."""

    out: Path
    jobs: list[Job]
    outcomes: list[Outcome]
    """Begins with those of earlier batches."""
    broken_off: bool = False

    def waiting(self) -> list[Job]:
        """Return the jobs that have no outcome yet."""
        done = {one.name for one in self.outcomes}
        return [job for job in self.jobs if job.name not in done]


def run(args: argparse.Namespace) -> int:
    """Analyse the recordings; exit 2 where one or more were not."""
    if args.scheduler is not None and args.jobs is not None:
        raise BadInput("--jobs is for work done here; with --scheduler its workers are used")
    out = Path(args.out) if args.out is not None else args.folder / RESULTS
    found = find_recordings(args.folder, out)
    options.plan_of(args, options.bay_of(args))  # their mistakes are told before anything is begun
    jobs = [job_of(one, out, *_options(args)) for one in found.recordings]
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise BadInput(f"--out {out}: cannot be made ({fault.strerror})") from None
    batch = _Batch(out, jobs, [as_before(job) for job in jobs if is_done(job)])
    _tell_found(batch, found)
    with owner_only():
        _work(args, batch)
    return _tell_done(batch)


def _work(args: argparse.Namespace, batch: _Batch) -> None:
    """Do what is to be done; what was done is in the table, also when it is broken off."""
    asked, ready = batch.waiting(), len(batch.outcomes)
    try:
        if asked:
            with (
                workers(args.jobs or os.cpu_count() or 1, args.scheduler) as hands,
                ProgressLine("batch", float(len(asked)), "failed") as line,
            ):
                for outcome in hands.do_all(asked):
                    batch.outcomes.append(outcome)
                    failed = sum(bool(one.exit_code) for one in batch.outcomes)
                    line.tell(float(len(batch.outcomes) - ready), failed)
    except KeyboardInterrupt:
        batch.broken_off = True
    finally:
        write_table(batch.out, batch.outcomes, [job.name for job in batch.waiting()])


def _tell_found(batch: _Batch, found: Found) -> None:
    """Say what will be done, and what was passed over, before anything is begun."""
    console = OutConsole()
    if found.other_tables:
        console.print(
            f"passed over: {escape(', '.join(found.other_tables))}: no trace, since the first line "
            f"does not name {', '.join(NEEDED)}", soft_wrap=True,
        )  # fmt: skip
    ready = len(batch.outcomes)
    earlier = f", {ready} of them in an earlier batch: {len(batch.waiting())} left" if ready else ""
    console.print(
        f"{_recordings(len(batch.jobs))} found{earlier}. Results in {escape(str(batch.out))}",
        soft_wrap=True,
    )


def _tell_done(batch: _Batch) -> int:
    """Say what came of it; return the exit code."""
    console = OutConsole()
    outcomes = sorted(batch.outcomes, key=lambda one: one.name)
    failed = [one for one in outcomes if one.exit_code]
    for one in failed:
        console.print(f"not analysed: {escape(one.name)}: {escape(one.message)}", soft_wrap=True)
    before = sum(one.before for one in outcomes)
    earlier = f" ({before} in an earlier batch)" if before else ""
    left = len(batch.waiting())
    not_begun = f", {left} not yet: the same command goes on with them" if left else ""
    console.print(
        f"{'broken off: ' if batch.broken_off else ''}{len(outcomes) - len(failed)} of "
        f"{_recordings(len(batch.jobs))} analysed{earlier}, {len(failed)} not{not_begun}. Table "
        f"and steps in {escape(str(batch.out))}", soft_wrap=True,
    )  # fmt: skip
    return 2 if failed or left else 0


def _recordings(count: int) -> str:
    return "1 recording" if count == 1 else f"{count} recordings"


def _options(args: argparse.Namespace) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the options for every recording, and those for one without a plan of its own.

    Files are named by their whole path: the work may be done from another folder.
    """
    bay = () if args.bay is None else ("--bay", str(Path(args.bay).resolve()))
    if args.plan is not None:
        plan = Path(args.plan)
        return bay, ("--plan", str(plan.resolve()) if plan.is_file() else args.plan)
    return bay, () if args.belt_speed is None else ("--belt-speed", args.belt_speed)


def _jobs(text: str) -> int:
    try:
        value = int(text)
    except ValueError:
        value = 0
    if not 1 <= value <= MOST_JOBS:
        raise argparse.ArgumentTypeError(f"'{text}'; allowed: a whole number from 1 to {MOST_JOBS}")
    return value
