"""`station forget`: erase a runner everywhere, and say what went."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from rich.markup import escape

from station.commands import store_options
from station.commands.console import OutConsole
from station.errors import BadInput


def add_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "forget",
        description="Erase a runner: database, what waits in the spool, session folders with "
        "their tables, films and sound. Exports that were handed out are not found.",
    )
    parser.add_argument("code", metavar="CODE", help="the runner's code")
    parser.add_argument("--yes", action="store_true", help="do not ask")
    parser.add_argument(
        "--also",
        metavar="DIR",
        type=Path,
        action="append",
        default=[],
        help="search this folder, too, for sessions of this runner; may be given again "
        "(out/ and the folders on record are searched in any case)",
    )
    store_options.add_records(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Erase a runner."""
    code = store_options.check_code(args.code)
    place = store_options.place_of(args)
    missing = [str(folder) for folder in args.also if not folder.is_dir()]
    if missing:
        raise BadInput(f"--also {missing[0]}: there is no such folder")
    from station.keep.store import Records, Wanted

    console = OutConsole()
    with Records(place) as records:
        known = records.runner(code)
        visits = records.visits(Wanted(runner=code))
        if known is None:
            console.print(f"{code} is not in the database; folders and spool are searched.")
        else:
            steps = sum(one.steps for one in visits)
            console.print(f"{code}: {len(visits)} visits with {steps} steps are on record.")
        if not args.yes and not _agreed(code):
            console.print("Nothing was erased.")
            return 0
        erased = records.forget(code, (*args.also, Path("out")))
    for path in erased.files:
        console.print(f"erased: {escape(path)}", soft_wrap=True)
    told = "and the code itself " if known is not None else ""
    console.print(
        f"Erased: {erased.visits} visits, {erased.steps} steps {told}from the database; "
        f"{len(erased.files)} files and folders."
    )
    for sentence in erased.left:
        console.print(f"left: {escape(sentence)}", soft_wrap=True)
    return 0


def _agreed(code: str) -> bool:
    """Ask; only the code itself, typed, means yes."""
    if not sys.stdin.isatty():
        raise BadInput("station forget: nobody is there to be asked; add --yes")
    try:
        answer = input(f"This cannot be undone. Type {code} to erase: ")
    except EOFError:
        return False
    return answer.strip() == code
