"""`station visits`: list the visits on record."""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace

from rich.markup import escape
from rich.table import Table

from station.commands import store_options
from station.commands.console import OutConsole
from station.keep.store import SORTS, Records, VisitLine

MOST = 40


def add_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "visits",
        description="List visits, the newest first.",
        epilog="example: station visits --runner R07 --since 2026-11-01 --sort within",
    )
    store_options.add_choice(parser)
    parser.add_argument("--broken-off", action="store_true", help="only visits without an end")
    parser.add_argument(
        "--sort", choices=tuple(SORTS), default="began", help="what to sort by (default: began)"
    )
    parser.add_argument("--reverse", action="store_true", help="the other way round")
    parser.add_argument(
        "--most", type=_count, default=MOST, metavar="N", help=f"list N at most (default: {MOST})"
    )
    store_options.add_records(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """List visits."""
    code = None if args.runner is None else store_options.check_code(args.runner)
    wanted = replace(
        store_options.wanted_of(args, code), broken_off=args.broken_off, sort=args.sort,
        reverse=args.reverse, most=args.most,
    )  # fmt: skip
    with Records(store_options.place_of(args)) as records:
        notices = records.notices
        lines = records.visits(wanted)
        count = records.count(wanted)
    for notice in notices:
        print(f"station: {notice}", file=sys.stderr)
    console = OutConsole()
    if not lines:
        console.print("No visit is on record that fits.")
        return 0
    console.print(_table(lines))
    more = f"; --most {count} lists all" if count > len(lines) else ""
    console.print(f"{len(lines)} of {count} visits{more}")
    return 0


def _table(lines: list[VisitLine]) -> Table:
    table = Table("began", "runner", "bay", "plan")
    for head in ("steps", "minutes", "within"):
        table.add_column(head, justify="right")
    table.add_column("end")
    for one in lines:
        share = one.share_within
        table.add_row(
            f"{one.began.astimezone():%Y-%m-%d %H:%M}", one.runner, escape(one.bay),
            escape(one.plan), str(one.steps), f"{one.running_s / 60.0:.1f}",
            "-" if share is None else f"{100.0 * share:.0f} %", escape(_end(one)),
        )  # fmt: skip
    return table


def _end(one: VisitLine) -> str:
    told = "goes on" if one.state == "open" else (one.why or one.state)
    return f"{told}; {one.steps_lost} lost" if one.steps_lost else told


def _count(text: str) -> int:
    if text.isascii() and text.isdigit() and 1 <= int(text) <= 1_000_000:
        return int(text)
    raise argparse.ArgumentTypeError(f"'{text}'; allowed: a whole number from 1 to 1000000")
