"""Options that several commands share, and how their values are read."""

from __future__ import annotations

import argparse
from datetime import datetime
from pathlib import Path

from station.coach.plan import BELT_SPEED_MPS_RANGE, Drill, Plan
from station.commands.codes import check_runner as check_runner
from station.errors import BadInput
from station.settings import check_plan_against_bay, read_bay, read_plan
from station.settings.resources import Traversable, names, resource
from station.units import format_speed, parse_speed
from station.values import Bay

PLANS_FOLDER = "config/plans"
FREE_RUN = "Free run"


def add_bay_and_plan(parser: argparse.ArgumentParser) -> None:
    """Add `--bay`, `--plan` and `--belt-speed`."""
    parser.add_argument("--bay", metavar="FILE", help="bay profile (bay.toml)")
    parser.add_argument(
        "--plan", metavar="FILE", help="drill plan (plan.toml), or the name of a shipped one"
    )
    parser.add_argument(
        "--belt-speed",
        metavar="SPEED",
        help='what the belt is set to where there is no plan, such as "6 mph" or "10 km/h"',
    )


def add_runner(parser: argparse.ArgumentParser) -> None:
    """Add `--runner`."""
    parser.add_argument(
        "--runner",
        metavar="CODE",
        help="the runner's code (A-Z, 0-9, -); with it the visit goes into the records",
    )


def add_out(parser: argparse.ArgumentParser, default: str) -> None:
    """Add `--out`; `default` says in the help what is taken without it."""
    parser.add_argument(
        "--out", metavar="DIR", type=Path, help=f"folder for the results (default: {default})"
    )


def add_showing(parser: argparse.ArgumentParser) -> None:
    """Add `--headless`, `--fast`, `--seconds` and `--mute`."""
    parser.add_argument("--headless", action="store_true", help="open no window")
    parser.add_argument(
        "--fast",
        action="store_true",
        help="recordings and demo only: every frame in order, as fast as it goes, without sound",
    )
    parser.add_argument(
        "--seconds", type=seconds, metavar="N", help="end after N seconds of the session"
    )
    parser.add_argument("--mute", action="store_true", help="no sound; the beat stays on screen")


def seconds(text: str) -> float:
    """Read an option's number of seconds, over 0."""
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not 0.0 < value < 1e6:
        raise argparse.ArgumentTypeError(f"'{text}'; allowed: a number of seconds over 0")
    return value


def bay_of(args: argparse.Namespace) -> Bay:
    """Return the bay that the options name, or an ordinary one."""
    return Bay() if args.bay is None else read_bay(Path(args.bay))


def find_plan(text: str, option: str = "--plan ") -> Path | Traversable:
    """Return the file of a plan that is named by path, or by the name of a shipped one.

    Args:
        text: Path or name.
        option: What a mistake is told of; empty: of the text alone.
    """
    path = Path(text)
    if path.is_file() or path.suffix or len(path.parts) != 1:
        return path
    known = names(PLANS_FOLDER)
    if text in known:
        return resource(f"{PLANS_FOLDER}/{text}.toml")
    raise BadInput(
        f"{option}{text}: there is no such file and no shipped plan of this name "
        f"(shipped: {', '.join(known) or 'none'})"
    )


def plan_of(args: argparse.Namespace, bay: Bay) -> Plan:
    """Return the plan that the options name, or a free run; raise BadInput beyond the bay."""
    if args.plan is not None and args.belt_speed is not None:
        raise BadInput("--belt-speed goes with a free run; with --plan the plan says the speed")
    if args.plan is not None:
        return read_plan(find_plan(args.plan), bay)
    plan = free_run(args.belt_speed)
    check_plan_against_bay(plan, bay)
    return plan


def free_run(belt_speed: str | None) -> Plan:
    """Return the plan of one drill without an end.

    Args:
        belt_speed: As written on the command line; None: nobody knows it.

    Raises:
        BadInput: It is no treadmill's speed.
    """
    mps = None
    if belt_speed is not None:
        low, high = BELT_SPEED_MPS_RANGE
        try:
            mps = parse_speed(belt_speed).mps
        except ValueError as fault:
            raise BadInput(f"--belt-speed: {fault}") from None
        if not low - 1e-9 <= mps <= high + 1e-9:
            raise BadInput(
                f"--belt-speed {belt_speed}: no treadmill's speed; allowed: "
                f"{format_speed(low, 'km/h')} to {format_speed(high, 'km/h')}"
            )
    drill = Drill(FREE_RUN, "run", mps, belt_speed, seconds=float("inf"))
    return Plan(FREE_RUN, (drill,))


def out_folder(args: argparse.Namespace, now: datetime) -> Path:
    """Return the folder that the options name, or a new one named by date and time."""
    if args.out is not None:
        return Path(args.out)
    return free_folder(Path("out") / now.strftime("%Y%m%d-%H%M%S"))


def free_folder(stem: Path) -> Path:
    """Return a path that is not there yet: this one, or it with a number."""
    path, number = stem, 2
    while path.exists():
        path = stem.with_name(f"{stem.name}-{number}")
        number += 1
    return path
