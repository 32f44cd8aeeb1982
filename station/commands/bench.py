"""`station bench`: how fast the station and how good its measurement is on this machine."""

from __future__ import annotations

import argparse
import json
import os
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from rich.box import SIMPLE_HEAD
from rich.markup import escape
from rich.table import Table

from station.bench.cells import Cell, mixed_cells, quick_cells, single_cells
from station.bench.pushing import plain_loop_ms
from station.bench.result import Result
from station.bench.score import Spread
from station.bench.simulated import SHORTEST_S
from station.bench.work import Data, Job, cell_jobs, clip_jobs, find_data, run_all, trial_jobs
from station.commands.bench_speed import Speed, measure_speed, runs_of, speed_lines
from station.commands.records import versions
from station.commands.telling import OutConsole, ProgressLine

MOST_CELLS = 1000
MOST_JOBS = 256
_MIXED = 16
_PAIRS = 5
_MOST_PAIRS = 100
_USUAL_S = 15.0
_QUICK_S = 10.0
_LONGEST_S = 600.0
_HEADS = (
    "contacts", "missed", "invented", "contact\nms", "toe-off\nms", "shank\ndeg", "rate\nspm",
    "verdict\nms", "misses",
)  # fmt: skip


def add_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "bench",
        description="Run the pose model alone and the whole station on the same clip in turns, "
        "then in real time. Measure simulated runners, whose truth is known, and recorded data "
        "where given: a table of errors with the bounds that each run misses. The last line is all "
        "of it as JSON. 10 mm of noise, 15 percent of frames with swapped legs and 2 percent of "
        "frames lost are added to simulated and recorded poses. Missed bounds are a finding, not "
        "a fault: the exit code is 0 all the same.",
    )
    parser.add_argument(
        "--cells",
        type=_cells,
        metavar="N",
        help="the first N runners only (default: one for each end of each range, and "
        f"{_MIXED} with everything changed at once; a larger N adds more of those)",
    )
    parser.add_argument(
        "--seconds",
        type=_seconds,
        metavar="S",
        help=f"length of each simulated run, {SHORTEST_S:g} to {_LONGEST_S:g} "
        f"(default {_USUAL_S:g}, with --quick {_QUICK_S:g}); a learned view is judged from 10 on",
    )
    parser.add_argument(
        "--data",
        type=Path,
        metavar="DIR",
        help="recorded data: a folder with a force-plate trial (treadmill_running) or rendered "
        "clips (clips), which go through the real pose model",
    )
    parser.add_argument(
        "--jobs", type=_jobs, metavar="J", help="processes at once (default: one per core)"
    )
    parser.add_argument(
        "--quick",
        action="store_true",
        help="few runners, short runs, each recorded trial once per frame rate, no clips, no speed",
    )
    parser.add_argument(
        "--only", choices=("speed", "accuracy"), help="one of the two (default: both)"
    )
    parser.add_argument(
        "--pairs",
        type=_pairs,
        default=_PAIRS,
        metavar="P",
        help="how often the pose model alone and the whole station are run in turns "
        f"(default {_PAIRS})",
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the bench; exit 0 also when bounds are missed."""
    data = Data(None, ()) if args.data is None else find_data(args.data)
    seconds = args.seconds or (_QUICK_S if args.quick else _USUAL_S)
    told: dict[str, object] = {"versions": versions(), "cores": os.cpu_count()}
    speed = None
    if args.only != "accuracy" and not (args.quick and args.only is None):
        speed = _speed(args.pairs)  # first: nothing else may run beside it
        told["speed"] = speed.as_dict()
    if args.only != "speed":
        cells = chosen_cells(args.cells, args.quick)
        told |= _accuracy(data, cells, seconds, args.quick, args.jobs or os.cpu_count() or 1)
    if speed is not None:
        for line in speed_lines(speed):
            OutConsole().print(escape(line), soft_wrap=True)
    names = [name for name in ("speed", "cells") if name in told]
    words = {"speed": "speed", "cells": "accuracy"}
    print(json.dumps({"bench": " and ".join(words[n] for n in names)} | told, allow_nan=False))
    return 0


def _speed(pairs: int) -> Speed:
    with ProgressLine("bench of speed", float(runs_of(pairs)), "runs") as line:
        return measure_speed(pairs, lambda done, all_of: line.tell(float(done), done))


def _accuracy(
    data: Data, cells: Sequence[Cell], seconds: float, quick: bool, processes: int
) -> dict[str, object]:
    """Run what has a truth, print its table, and return it for JSON."""
    jobs: list[Job] = []
    if not quick:
        jobs += clip_jobs(data.clips)  # first, because they take longest
    if data.trial_folder is not None:
        jobs += trial_jobs(data.trial_folder, (1,)) if quick else trial_jobs(data.trial_folder)
    recorded = len(jobs)
    jobs += cell_jobs(cells, seconds)
    loop_ms = plain_loop_ms()
    found = _run(jobs, processes)
    results = [*found[recorded:], *found[:recorded]]
    cost_ms = _cost_ms(results)
    console = OutConsole()
    console.print(table(results))
    for result in results:
        if result.misses:
            missed = "; ".join(map(str, result.misses))
            console.print(f"{escape(result.name)} misses (allowed): {missed}", soft_wrap=True)
    console.print(
        f"{sum(not r.misses for r in results)} of {len(results)} runs keep all bounds; the median "
        f"frame costs {cost_ms:.2f} ms of processor time, {cost_ms / loop_ms:.2f} times a fixed "
        "loop of plain Python",
        soft_wrap=True,
    )
    return told_of(found[recorded:], found[:recorded], seconds, loop_ms)


def chosen_cells(count: int | None, quick: bool) -> list[Cell]:
    """Return the simulated runners: the first `count`, or as many as there are by default."""
    cells = list(quick_cells() if quick else single_cells())
    if count is None:
        return cells if quick else [*cells, *mixed_cells(_MIXED)]
    return [*cells, *mixed_cells(max(0, count - len(cells)))][:count]


def table(results: Sequence[Result]) -> Table:
    """Build the table: one row per run, errors as median and standard deviation."""
    built = Table(
        title="Measured minus true: median, standard deviation",
        title_justify="left",
        box=SIMPLE_HEAD,
        pad_edge=False,
        collapse_padding=True,
    )
    built.add_column("run", no_wrap=True)
    for head in _HEADS:
        built.add_column(head, justify="right", no_wrap=True)
    for result in results:
        score = result.score
        built.add_row(
            escape(result.name),
            str(score.contacts),
            str(score.missed),
            str(score.invented),
            _spread(score.contact_ms, 1),
            _spread(score.toe_off_ms, 1),
            _spread(score.shank_deg, 2),
            "-" if score.rate_spm is None else f"{score.rate_spm:+.2f}",
            "-" if score.longest_verdict_ms is None else f"{score.longest_verdict_ms:.0f}",
            str(len(result.misses) or ""),
        )
    return built


def told_of(
    cells: Sequence[Result], recorded: Sequence[Result], seconds: float, loop_ms: float
) -> dict[str, object]:
    """Return all of the accuracy for JSON."""
    results = [*cells, *recorded]
    cost_ms = _cost_ms(results)
    return {
        "seconds": seconds,
        "cost_ms": round(cost_ms, 3),
        "plain_loop_ms": round(loop_ms, 3),
        "cost_per_plain_loop": round(cost_ms / loop_ms, 3),
        "runs_with_misses": sum(bool(r.misses) for r in results),
        "cells": [r.as_row() for r in cells],
        "recorded": [r.as_row() for r in recorded],
    }


def _run(jobs: Sequence[Job], processes: int) -> list[Result]:
    results: dict[int, Result] = {}
    contacts = 0
    with ProgressLine("bench", float(len(jobs))) as line:
        for place, result in run_all(jobs, processes):
            results[place] = result
            contacts += result.score.contacts
            line.tell(float(len(results)), contacts)
    return [results[place] for place in range(len(jobs))]


def _cost_ms(results: Sequence[Result]) -> float:
    return float(np.median([r.cost_ms for r in results]))


def _spread(spread: Spread, digits: int) -> str:
    if spread.median is None:
        return "-"
    return f"{spread.median:+.{digits}f} {spread.sd:.{digits}f}"


def _whole(text: str, most: int) -> int:
    try:
        value = int(text)
    except ValueError:
        value = 0
    if not 1 <= value <= most:
        raise argparse.ArgumentTypeError(f"'{text}'; allowed: a whole number from 1 to {most}")
    return value


def _cells(text: str) -> int:
    return _whole(text, MOST_CELLS)


def _pairs(text: str) -> int:
    return _whole(text, _MOST_PAIRS)


def _jobs(text: str) -> int:
    return _whole(text, MOST_JOBS)


def _seconds(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not SHORTEST_S <= value <= _LONGEST_S:
        raise argparse.ArgumentTypeError(
            f"'{text}'; allowed: a number of seconds from {SHORTEST_S:g} to {_LONGEST_S:g}"
        )
    return value
