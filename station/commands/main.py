"""The `station` command: reads the options, runs one command, turns errors into exit codes."""

from __future__ import annotations

import argparse
import contextlib
import gc
import importlib
import os
import sys
import tempfile
import traceback
from collections.abc import Iterator, Sequence
from pathlib import Path

from station import __version__
from station.errors import StationError

_ABOUT = """\
A live feedback station beside a treadmill: where each foot lands, a beat to run to, a cue when a
landing is ahead of the runner's limit. It never drives the belt, and it is no emergency stop."""

_EXAMPLES = """\
examples:
  station demo                                  an invented runner, everything real but the camera
  station run --bay bay.toml --plan plan.toml   a session with a coach
  station run --source clip.mp4 --fast          a recorded clip, as fast as it goes
  station replay trace.csv --belt-speed "6 mph" landmarks from any tracker
  station bay --bay bay.toml --plan retention   unattended visits, self-guided
  station setup --bay bay.toml                  set a bay up, guided
  station check --bay bay.toml                  sound, camera and all else of a bay
  station plans                                 the plans that are shipped
  station visits --runner R07                   visits on record
  station report out/demo                       a session as a page to read and print
  station export R07                            hand a runner's records out
  station batch clips --belt-speed "6 mph"      every recording in a folder
  station bench --quick                         accuracy and cost on this machine

exit codes: 0 done; 2 bad input, or nothing usable in it; 3 a device is missing, busy or lost;
1 a fault of the station itself"""


COMMANDS = {
    "demo": "show the station at work on an invented runner",
    "run": "run a session on a camera, a clip, or the demo's runner",
    "replay": "measure a trace of landmarks (trace.csv)",
    "bay": "unattended visits: a runner is led from the code to the summary",
    "setup": "set a bay up: camera, level, scale, sound, screen; saves its profile",
    "check": "check sound, camera, pose model, view, disk and screen of a bay",
    "plans": "list and check drill plans",
    "visits": "list the visits on record",
    "runners": "list runners; set what one may do alone, and note consent",
    "report": "a session, or a runner's visits, as a page to read and print",
    "export": "hand a runner's records out, or all, as CSV and Parquet",
    "forget": "erase a runner everywhere",
    "batch": "analyse many recorded clips and traces",
    "bench": "measure accuracy and cost on this machine",
}
"""Each is a module beside this one, with its line in the overview. Only the one that is asked for
is imported: neither a list of visits nor the overview need wait for the pose model's packages."""


def make_parser(only: str | None = None) -> argparse.ArgumentParser:
    """Return the parser of one command, or of none.

    Args:
        only: The command that will be run; None: none that is known. Then the parser tells of all,
            and runs none.
    """
    parser = argparse.ArgumentParser(
        prog="station",
        description=_ABOUT,
        epilog=_EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"station {__version__}")
    parser.add_argument(
        "--debug", action="store_true", help="show the whole trace of a fault of the station"
    )
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    if only is None:
        for name, line in COMMANDS.items():
            commands.add_parser(name, help=line)
        return parser
    importlib.import_module(f"station.commands.{only}").add_parser(commands)
    own = commands.choices[only]
    own.set_defaults(own_parser=own)
    return parser


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command.

    Args:
        arguments: Without the program's name; None: those of this process.

    Returns:
        The exit code.
    """
    try:
        with _imports_uncollected(own_process=arguments is None):
            parser = make_parser(_asked(arguments))
        args, unknown = parser.parse_known_args(arguments)
        if unknown:  # told by the command's own parser: its usage is what helps
            args.own_parser.error(f"unrecognized arguments: {' '.join(unknown)}")
    except SystemExit as wish:  # argparse has said what there is to say
        return wish.code if isinstance(wish.code, int) else 2
    args.session_folder = None  # where a command keeps its files, once it has a folder
    try:
        code: int = args.run(args)
        sys.stdout.flush()
        return code
    except StationError as fault:
        print(f"station: {fault}", file=sys.stderr)
        return fault.exit_code
    except KeyboardInterrupt:
        print("station: ended by Ctrl-C", file=sys.stderr)
        return 0 if args.session_folder is None else 1
    except BrokenPipeError:  # who reads our output has enough
        _mute_stdout()
        return 0
    except Exception as fault:
        return _our_fault(fault, args)


@contextlib.contextmanager
def _imports_uncollected(own_process: bool) -> Iterator[None]:
    """Import without a search for garbage: there is none, and it takes a quarter of the time.

    Args:
        own_process: Then what is there is never looked through again either.
    """
    collects = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if own_process:
            gc.freeze()
        if collects:
            gc.enable()


def _asked(arguments: Sequence[str] | None) -> str | None:
    """Return the command that is asked for; None: none that is known."""
    given = sys.argv[1:] if arguments is None else arguments
    first = next((one for one in given if not one.startswith("-")), None)
    return first if first in COMMANDS else None


def _mute_stdout() -> None:
    """Keep Python from complaining at its end about a pipe that nobody reads."""
    try:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)
    except (OSError, ValueError):
        pass


def _our_fault(fault: Exception, args: argparse.Namespace) -> int:
    """Say in one line that the station itself failed, and keep the trace."""
    said = f"{type(fault).__name__}: {fault}".splitlines()[0]
    if args.debug:
        traceback.print_exception(type(fault), fault, fault.__traceback__)
    where = ""
    try:
        folder = Path(args.session_folder or tempfile.mkdtemp(prefix="station-"))
        trace = folder / "crash.txt"
        lines = traceback.format_exception(type(fault), fault, fault.__traceback__)
        trace.write_text("".join(lines), encoding="utf-8")
        where = f"; the trace is in {trace}"
    except OSError:
        pass
    print(f"station: a fault of the station itself ({said}){where}", file=sys.stderr)
    return 1


if __name__ == "__main__":
    sys.exit(main())
