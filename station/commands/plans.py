"""`station plans`: list the shipped drill plans and check one's own."""

from __future__ import annotations

import argparse
from pathlib import Path

from rich.markup import escape

from station.coach.plan import Plan
from station.coach.plan_flags import plan_flags
from station.coach.programmes import programme_faults, programmes
from station.commands.console import OutConsole
from station.commands.options import PLANS_FOLDER, find_plan
from station.commands.plan_tables import (
    Labelled,
    details_table,
    drills_table,
    minutes_in_all,
    overview,
    programme_overview,
    summary,
)
from station.errors import BadInput
from station.settings import read_bay, read_plan
from station.settings.resources import Traversable, names, resource
from station.values import Bay


def add_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "plans",
        description="List the shipped drill plans in short; or show the named ones in full, and "
        "check them: all mistakes of all files are told at once, then what to look at twice.",
    )
    parser.add_argument(
        "files", nargs="*", metavar="FILE", help="plans to check, or names of shipped ones"
    )
    parser.add_argument("--bay", metavar="FILE", help="check against this bay's limits, too")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """List or check; exit 2 where any plan has a mistake."""
    bay = Bay() if args.bay is None else read_bay(Path(args.bay))
    faults: list[BadInput] = []
    plans: list[Labelled] = []
    for label, file in _wanted(args.files, faults):
        try:
            plan = read_plan(file, bay)
        except BadInput as fault:
            faults.append(fault)
            continue
        plans.append((label, plan))
    faults += [BadInput(line) for line in programme_faults(plan for _, plan in plans)]
    console = OutConsole()
    if args.files:
        for label, plan in plans:
            _tell(console, label, plan)
    else:
        _list(console, plans)
    if faults:
        raise BadInput("\n".join(str(fault) for fault in faults))
    return 0


def _wanted(files: list[str], faults: list[BadInput]) -> list[tuple[str, Path | Traversable]]:
    if not files:
        return [(name, resource(f"{PLANS_FOLDER}/{name}.toml")) for name in names(PLANS_FOLDER)]
    found: list[tuple[str, Path | Traversable]] = []
    for text in files:
        try:
            found.append((text, find_plan(text, option="")))
        except BadInput as fault:
            faults.append(fault)
    return found


def _list(console: OutConsole, plans: list[Labelled]) -> None:
    """Tell all plans in short, programmes apart."""
    console.print(overview([one for one in plans if one[1].programme is None]))
    labels = {id(plan): label for label, plan in plans}
    for name, group in programmes(plan for _, plan in plans).items():
        console.print()
        console.print(f'Programme "{escape(name)}", {minutes_in_all(group)} in all:')
        console.print(programme_overview([(labels[id(plan)], plan) for plan in group]))
    console.print()
    console.print("station plans NAME shows a plan's drills; station plans FILE checks your own.")


def _tell(console: OutConsole, label: str, plan: Plan) -> None:
    """Tell one plan in full."""
    console.print(f"[bold]{escape(label)}: {escape(plan.name)}[/]", soft_wrap=True)
    console.print(escape(summary(plan)), soft_wrap=True)
    console.print(drills_table(plan))
    details = details_table(plan)
    if details is not None:
        console.print()
        console.print(details)
    for flag in plan_flags(plan):
        console.print(f"note: {escape(str(flag))}", soft_wrap=True)
    console.print()
