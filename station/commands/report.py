"""`station report`: a session, or a runner's visits, as a page for people."""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from rich.markup import escape

from station.commands import store_options
from station.commands.console import OutConsole
from station.errors import BadInput, StationError
from station.keep.records_place import Place

if TYPE_CHECKING:
    from station.coach.words import Words
    from station.keep.report.facts import SessionFacts
    from station.keep.report.say import Say
    from station.keep.store import Records, Wanted

KINDS = ("session", "progress", "runner")
UNITS = ("mph", "km/h", "m/s")


def add_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "report",
        help="a session, or a runner's visits, as a page to read and print",
        description="Write one HTML file with everything in it: what was trained, where the feet "
        "landed, what improved, what did not and what is not known. It prints on A4.",
        epilog="examples: station report out/demo; station report --runner R07; "
        "station report --runner R07 --kind progress --since 2026-11-01",
    )
    parser.add_argument("folder", nargs="?", type=Path, metavar="FOLDER", help="a session's folder")
    parser.add_argument(
        "--kind", choices=KINDS, default="session",
        help="session: one session (default); progress: from visit to visit; runner: one session "
        "in plain words, for the runner",
    )  # fmt: skip
    parser.add_argument(
        "--visit", metavar="WHEN",
        help="which visit of the runner: as `station visits` lists it, such as 2026-11-25 or "
        "'2026-11-25 10:30' (default: the newest)",
    )  # fmt: skip
    store_options.add_choice(parser)
    parser.add_argument("--language", metavar="LANG", help="of the words: en, de (default: the "
                        "bay's, where --records is a bay.toml, else en)")  # fmt: skip
    parser.add_argument("--unit", choices=UNITS, help="of belt speeds (default: the language's)")
    parser.add_argument(
        "--out", metavar="FILE", type=Path,
        help="the page (default: report.html in the session's folder; for a visit on record "
        "report-CODE-DAY.html here)",
    )  # fmt: skip
    store_options.add_records(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Write a report."""
    _check(args)
    from station.keep.report.say import Say

    say = Say(_words(args), args.unit)
    if args.folder is not None:
        facts = _from_folder(args)
        told = _session(facts, args, say)
        path = args.out or args.folder / _FILE[args.kind]
    else:
        path, told = _from_records(args, say)
    from station.keep.report.page import write_page

    write_page(path, told)
    OutConsole().print(escape(str(path)), soft_wrap=True)
    return 0


_FILE = {"session": "report.html", "runner": "runner.html"}


def _check(args: argparse.Namespace) -> None:
    """See that the options go together."""
    if (args.folder is None) == (args.runner is None):
        raise BadInput(
            "station report: name a session's folder, or --runner CODE for a visit on record; "
            "one of them"
        )
    if args.folder is not None:
        if args.kind == "progress":
            raise BadInput("--kind progress: a folder is one session; allowed with --runner CODE")
        for name in ("visit", "since", "until", "bay", "plan"):
            if getattr(args, name) is not None:
                raise BadInput(f"--{name}: chooses among visits on record; allowed with --runner")
    if args.kind == "progress" and args.visit is not None:
        raise BadInput("--visit: chooses one visit; a progress report is of all that fit")


def _words(args: argparse.Namespace) -> Words:
    from station.settings.words import read_words

    language = args.language
    if language is None and args.records is not None and args.records.endswith(".toml"):
        from station.settings import read_bay

        language = read_bay(Path(args.records)).language
    try:
        return read_words(language or "en")
    except BadInput:
        if args.language is None:
            raise
        from station.settings.resources import names

        known = ", ".join(names("config/words"))
        raise BadInput(f"--language {language!r}: no such words; allowed: {known}") from None


# --- one session --------------------------------------------------------------------------------


def _from_folder(args: argparse.Namespace) -> SessionFacts:
    from station.keep.report.from_folder import read_folder

    return read_folder(args.folder, lambda code: _may_film(args, code))


def _may_film(args: argparse.Namespace, code: str) -> bool:
    """Return whether consent is on record; records that are not there or away know of none."""
    try:
        place = store_options.place_of(args)
        if not _there(place):
            return False
        from station.keep.store import Records

        with Records(place) as records:
            known = records.runner(code)
    except StationError as fault:
        print(f"station: {fault}; so no picture is shown", file=sys.stderr)
        return False
    return known is not None and known.video


def _there(place: Place) -> bool:
    """Return whether there are records at all: a report makes none."""
    return place.url is not None or place.database.exists()


def _session(facts: SessionFacts, args: argparse.Namespace, say: Say) -> str:
    from station.keep.report.findings import session_findings
    from station.keep.report.session_page import session_page
    from station.keep.report.still import still_of
    from station.settings.smallest_change import smallest_sizes

    findings = session_findings(facts)
    if args.kind == "runner":
        from station.keep.report.runner_page import runner_page

        return runner_page(findings, say)
    return session_page(findings, smallest_sizes(), say, still_of(facts))


# --- on record ----------------------------------------------------------------------------------


def _from_records(args: argparse.Namespace, say: Say) -> tuple[Path, str]:
    code = store_options.check_code(args.runner)
    place = store_options.place_of(args)
    if not _there(place):
        raise BadInput(f"{place.folder}: no records are there; name them with --records")
    from station.keep.store import Records

    wanted = replace(store_options.wanted_of(args, code), sort="began")
    with Records(place) as records:
        for notice in records.notices:
            print(f"station: {notice}", file=sys.stderr)
        if args.kind == "progress":
            return args.out or Path(f"progress-{code}.html"), _progress(records, wanted, say)
        from station.keep.report.from_store import find_visit, read_visit

        facts = read_visit(records, find_visit(records, wanted, args.visit))
    day = "" if facts.began is None else f"-{facts.began:%Y%m%d-%H%M}"
    name = f"report-{code}{day}.html" if args.kind == "session" else f"runner-{code}{day}.html"
    return args.out or Path(name), _session(facts, args, say)


def _progress(records: Records, wanted: Wanted, say: Say) -> str:
    from station.keep.report.from_store import find_visits, read_visits
    from station.keep.report.progress import MOST_VISITS, progress_of
    from station.keep.report.progress_page import progress_page
    from station.settings.smallest_change import smallest_sizes

    uids = find_visits(records, wanted)
    newest = uids[-MOST_VISITS:]
    code = wanted.runner or ""
    progress = progress_of(code, read_visits(records, newest), len(uids) - len(newest))
    return progress_page(progress, smallest_sizes(), say)
