"""`station export`: hand records out as CSV and Parquet, with a data dictionary."""

from __future__ import annotations

import argparse
import sys
from datetime import datetime
from pathlib import Path

from rich.markup import escape

from station.commands import store_options
from station.commands.console import OutConsole
from station.errors import BadInput


def add_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "export",
        description="Write steps, visits, drills, events, answers, baselines, consents and runners "
        "as CSV and as Parquet, with dictionary.csv: names, units, definitions.",
    )
    parser.add_argument("code", nargs="?", metavar="CODE", help="the runner's code")
    parser.add_argument("--all", action="store_true", help="every runner")
    store_options.add_choice(parser, runner=False)
    parser.add_argument(
        "--out", metavar="DIR", type=Path, help="a new folder (default: export- and the date)"
    )
    store_options.add_records(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Export."""
    if (args.code is None) != args.all:
        raise BadInput("station export: name a runner's code, or --all; not both")
    code = None if args.code is None else store_options.check_code(args.code)
    name = f"export-{code or 'all'}-{datetime.now():%Y%m%d-%H%M%S}"
    folder = Path(name) if args.out is None else args.out
    from station.keep.store import Records
    from station.keep.store.export import export

    with Records(store_options.place_of(args)) as records:
        for notice in records.notices:
            print(f"station: {notice}", file=sys.stderr)
        done = export(records, store_options.wanted_of(args, code), folder)
    console = OutConsole()
    told = ", ".join(f"{count} {name}" for name, count in done.rows.items())
    console.print(f"{escape(str(done.folder))}: {told}", soft_wrap=True)
    for film in done.films:
        console.print(f"the session's own files, films too, are in {escape(film)}", soft_wrap=True)
    return 0
