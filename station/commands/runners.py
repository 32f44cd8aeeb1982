"""`station runners`: list runners; set a runner's caps and consent."""

from __future__ import annotations

import argparse
import sys

from rich.table import Table

from station.coach.plan import BELT_SPEED_MPS_RANGE
from station.commands import store_options
from station.commands.console import OutConsole
from station.errors import BadInput
from station.keep.store import UNSET, Records, Runner
from station.units import format_speed, parse_speed

NONE = "none"
MOST_HOPS = 1000


def add_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "runners",
        description="List the runners on record, or enter one and set what the station never asks "
        "beyond. The caps hold for every unattended visit.",
        epilog='example: station runners R07 --belt-cap "12 km/h" --hops-cap 40 --film no',
    )
    parser.add_argument("code", nargs="?", metavar="CODE", help="the runner's code")
    parser.add_argument("--belt-cap", metavar="SPEED", help=f"fastest belt, or '{NONE}'")
    parser.add_argument("--hops-cap", metavar="N", help=f"most hops of a visit, or '{NONE}'")
    parser.add_argument(
        "--film", choices=("yes", "no"), help="note that the runner allows films, or does not"
    )
    store_options.add_records(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """List, or change one."""
    changes = (args.belt_cap, args.hops_cap, args.film)
    if args.code is None and any(one is not None for one in changes):
        raise BadInput("station runners: name the code of the runner to change")
    code = None if args.code is None else store_options.check_code(args.code)
    belt = UNSET if args.belt_cap is None else _belt_mps(args.belt_cap)
    hops = UNSET if args.hops_cap is None else _hops(args.hops_cap)
    with Records(store_options.place_of(args)) as records:
        for notice in records.notices:
            print(f"station: {notice}", file=sys.stderr)
        if code is not None and any(one is not None for one in changes):
            film = None if args.film is None else args.film == "yes"
            records.change_runner(code, belt, hops, film)
        found = records.runners() if code is None else _one(records, code)
    console = OutConsole()
    if not found:
        console.print("No runner is on record.")
        return 0
    console.print(_table(found))
    return 0


def _one(records: Records, code: str) -> list[Runner]:
    known = records.runner(code)
    if known is None:
        raise BadInput(
            f"{code}: no runner of this code is on record; a first visit or a cap enters one"
        )
    return [known]


def _table(found: list[Runner]) -> Table:
    table = Table("runner", "visits", "fastest belt", "most hops", "films", "baselines")
    for one in found:
        cap = one.belt_cap_mps
        belt = "no cap"
        if cap is not None:
            belt = f"{format_speed(cap, 'km/h')} ({format_speed(cap, 'mph')})"
        hops = "no cap" if one.hops_cap is None else str(one.hops_cap)
        film = "allowed" if one.video else "not allowed"
        speeds = sorted(baseline.belt.speed_mps for baseline in one.baselines)
        told = ", ".join(format_speed(speed, "km/h") for speed in speeds) or "-"
        table.add_row(one.code, str(one.visits), belt, hops, film, told)
    return table


def _belt_mps(text: str) -> float | None:
    if text == NONE:
        return None
    low, high = BELT_SPEED_MPS_RANGE
    try:
        mps = parse_speed(text).mps
    except ValueError as fault:
        raise BadInput(f"--belt-cap: {fault}") from None
    if not low - 1e-9 <= mps <= high + 1e-9:
        raise BadInput(
            f"--belt-cap {text}: no treadmill's speed; allowed: {format_speed(low, 'km/h')} to "
            f"{format_speed(high, 'km/h')}, or '{NONE}'"
        )
    return mps


def _hops(text: str) -> int | None:
    if text == NONE:
        return None
    if text.isascii() and text.isdigit() and int(text) <= MOST_HOPS:
        return int(text)
    raise BadInput(f"--hops-cap {text}: allowed: a whole number from 0 to {MOST_HOPS}, or '{NONE}'")
