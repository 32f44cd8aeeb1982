"""`station batch`: many recorded clips and traces, as fast as the machine's cores go."""

from __future__ import annotations

import argparse
import os
from pathlib import Path

from rich.markup import escape

from station.batch.engine import workers
from station.batch.recordings import find_recordings
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


def run(args: argparse.Namespace) -> int:
    """Analyse the recordings; exit 2 where one or more could not be."""
    if args.scheduler is not None and args.jobs is not None:
        raise BadInput("--jobs is for work done here; with --scheduler its workers are used")
    out = Path(args.out) if args.out is not None else args.folder / RESULTS
    found = find_recordings(args.folder, out)
    options.plan_of(args, options.bay_of(args))  # their mistakes are told before anything is begun
    jobs = [job_of(one, out, *_options(args)) for one in found]
    with owner_only():
        return _tell(out, _work(args, out, jobs))


def _work(args: argparse.Namespace, out: Path, jobs: list[Job]) -> list[Outcome]:
    """Do what is to be done; what was done is in the table, also when it is broken off."""
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise BadInput(f"--out {out}: cannot be made ({fault.strerror})") from None
    ready = [as_before(job) for job in jobs if is_done(job)]
    ready_names = {one.name for one in ready}
    asked = [job for job in jobs if job.name not in ready_names]
    outcomes = list(ready)
    try:
        if asked:
            with (
                workers(args.jobs or os.cpu_count() or 1, args.scheduler) as hands,
                ProgressLine("batch", float(len(asked)), "failed") as line,
            ):
                for outcome in hands.do_all(asked):
                    outcomes.append(outcome)
                    failed = sum(bool(one.exit_code) for one in outcomes)
                    line.tell(float(len(outcomes) - len(ready)), failed)
    finally:
        write_table(out, outcomes)
    return outcomes


def _tell(out: Path, outcomes: list[Outcome]) -> int:
    console = OutConsole()
    failed = sorted((one for one in outcomes if one.exit_code), key=lambda one: one.name)
    for one in failed:
        console.print(f"not analysed: {escape(one.name)}: {escape(one.message)}", soft_wrap=True)
    before = sum(one.before for one in outcomes)
    earlier = f" ({before} in an earlier batch)" if before else ""
    console.print(
        f"{len(outcomes) - len(failed)} of {len(outcomes)} recordings analysed{earlier}, "
        f"{len(failed)} not. Table and steps in {escape(str(out))}", soft_wrap=True,
    )  # fmt: skip
    return 2 if failed else 0


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
