"""Options of the commands that work on the records, and how their values are read."""

from __future__ import annotations

import argparse
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from station.commands.codes import check_code as check_code
from station.errors import BadInput
from station.keep import Place, make_place
from station.keep.station_log import LOG_FOLDER, StationLog

if TYPE_CHECKING:
    from station.keep.store import Wanted
    from station.values import Bay

FILMED = ("camera", "clip")


def add_records(parser: argparse.ArgumentParser) -> None:
    """Add `--records`."""
    parser.add_argument(
        "--records",
        metavar="R",
        help="which records: a bay profile (bay.toml), a folder, or a postgresql:// address "
        "(default: the user's own data folder)",
    )


def add_choice(parser: argparse.ArgumentParser, runner: bool = True) -> None:
    """Add the options that choose visits."""
    if runner:
        parser.add_argument("--runner", metavar="CODE", help="only this runner's")
    parser.add_argument(
        "--since", metavar="DAY", type=_day, help="only visits from this day on, as 2026-11-25"
    )
    parser.add_argument("--until", metavar="DAY", type=_day, help="only visits up to this day")
    parser.add_argument("--bay", metavar="NAME", help="only of bays with this in their name")
    parser.add_argument("--plan", metavar="NAME", help="only of plans with this in their name")


def wanted_of(args: argparse.Namespace, code: str | None) -> Wanted:
    """Return the visits that the options choose."""
    from station.keep.store import Wanted

    until = None if args.until is None else args.until + timedelta(days=1)
    return Wanted(code, args.since, until, args.bay, args.plan)


def place_of_bay(bay: Bay) -> Place:
    """Return where a bay's records are."""
    return make_place(bay.records_folder, bay.records_url, bay.keep_days, bay.video)


def open_log(bay: Bay) -> StationLog:
    """Open a bay's own log."""
    told = bay.log_folder
    beside = make_place(bay.records_folder).folder / LOG_FOLDER
    folder = beside if told is None else Path(told).expanduser()
    return StationLog(folder, bay.log_megabytes, bay.log_quiet_s)


def place_of(args: argparse.Namespace) -> Place:
    """Return the records that the options name.

    Raises:
        BadInput: There are none there.
    """
    text: str | None = args.records
    if text is None:
        return make_place(None)
    if text.endswith(".toml"):
        from station.settings import read_bay  # its checks take a while to import

        return place_of_bay(read_bay(Path(text)))
    if "://" in text:
        return make_place(None, text)
    if not Path(text).is_dir():
        raise BadInput(f"--records {text}: no folder; allowed: a bay.toml, a folder, an address")
    return make_place(text)


def check_film(kind: str, bay: Bay, runner: str | None) -> None:
    """See that somebody may be filmed; raises BadInput where not.

    Args:
        kind: Of the source; the demo's runner is nobody's picture.
        bay: Says whether films are allowed at all.
        runner: Has to have consented; None: nobody whose consent could be looked up.
    """
    if kind not in FILMED or (runner is None and kind == "clip"):
        return
    if not bay.video:
        raise BadInput(
            'no film: this bay allows none. Allowed with video = "on" under [records] in bay.toml '
            "(--bay FILE); or leave --video out"
        )
    if runner is None:
        return
    from station.keep.store import Records

    with Records(place_of_bay(bay)) as records:
        known = records.runner(runner)
    if known is None or not known.video:
        raise BadInput(
            f"no film: {runner} has not allowed it. Once the runner has: station runners {runner} "
            "--film yes; or leave --video out"
        )


def _day(text: str) -> datetime:
    try:
        return datetime.strptime(text, "%Y-%m-%d").astimezone()
    except ValueError:
        raise argparse.ArgumentTypeError(f"'{text}'; allowed: a day such as 2026-11-25") from None
