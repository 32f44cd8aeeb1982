"""`station plans`: list the shipped drill plans and check one's own."""

from __future__ import annotations

import argparse
import math
from pathlib import Path

from rich.markup import escape
from rich.table import Table

from station.coach.plan import Drill, Plan
from station.commands.options import PLANS_FOLDER, find_plan
from station.commands.telling import OutConsole
from station.errors import BadInput
from station.settings import check_plan_against_bay, read_bay, read_plan
from station.settings.resources import Traversable, names, resource


def add_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "plans",
        help="list and check drill plans",
        description="List the shipped drill plans, or check the given files: all mistakes of all "
        "files are told at once.",
    )
    parser.add_argument("files", nargs="*", metavar="FILE", help="plans to check")
    parser.add_argument("--bay", metavar="FILE", help="check against this bay's limits, too")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """List or check; exit 2 where any plan has a mistake."""
    bay = None if args.bay is None else read_bay(Path(args.bay))
    console = OutConsole()
    faults: list[BadInput] = []
    for label, file in _wanted(args.files, faults):
        try:
            plan = read_plan(file)
            if bay is not None:
                check_plan_against_bay(plan, bay)
        except BadInput as fault:
            faults.append(fault)
            continue
        console.print(f"{escape(label)}: {escape(plan.name)}", soft_wrap=True)
        console.print(_table(plan))
    if faults:
        raise BadInput("\n".join(str(fault) for fault in faults))
    return 0


def _wanted(files: list[str], faults: list[BadInput]) -> list[tuple[str, Path | Traversable]]:
    if not files:
        return [(name, resource(f"{PLANS_FOLDER}/{name}.toml")) for name in names(PLANS_FOLDER)]
    found: list[tuple[str, Path | Traversable]] = []
    for text in files:
        try:
            found.append((text, find_plan(text)))
        except BadInput as fault:
            faults.append(fault)
    return found


def _table(plan: Plan) -> Table:
    table = Table("drill", "kind", "belt", "step rate", "length", "feedback")
    for drill in plan.drills:
        feedback = "-" if drill.kind == "rest" else drill.feedback
        table.add_row(escape(drill.name), drill.kind, drill.belt_speed_text or "stands",
                      _rate(drill), _length(drill), feedback)  # fmt: skip
    return table


def _rate(drill: Drill) -> str:
    rate = drill.step_rate
    if rate is None:
        return "own"
    if rate.own:
        return "own, as measured"
    told = f"{rate.spm:g} spm" if rate.spm is not None else f"{rate.change_percent:+g} %"
    return f"own to {told}" if drill.beat and drill.beat_from == "own" else told


def _length(drill: Drill) -> str:
    if drill.steps is not None:
        return f"{drill.steps} steps"
    seconds = drill.seconds or 0.0
    return f"{math.floor(seconds / 60)}:{seconds % 60:02.0f}"
