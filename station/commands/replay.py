"""`station replay`: landmarks from any tracker, through the same session."""

from __future__ import annotations

import argparse
from datetime import datetime
from typing import cast

from station.clock import Clock, StreamClock
from station.commands import options
from station.commands.perform import Job, perform
from station.commands.store_options import place_of_bay
from station.live import Feed, TraceFeed
from station.see.trace import TraceSource


def add_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "replay",
        description="Measure a trace of landmarks from any tracker: no pose model, no window. "
        "Without a plan it is one free run at the belt speed given.",
    )
    parser.add_argument("trace", metavar="TRACE.csv", help="the trace")
    options.add_bay_and_plan(parser)
    options.add_runner(parser)
    options.add_out(parser, "out/ and the date and time")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Measure a trace."""
    runner = options.check_runner(args.runner)
    bay = options.bay_of(args)
    plan = options.plan_of(args, bay)
    width, height = bay.view.width or bay.width, bay.view.height or bay.height
    trace = TraceSource(args.trace, width, height)

    def make_feed(clock: Clock) -> Feed:
        return TraceFeed(trace, cast(StreamClock, clock))

    job = Job(
        kind="trace",
        make_feed=make_feed,
        source=trace,
        plan=plan,
        bay=bay,
        out=options.out_folder(args, datetime.now()),
        runner=runner,
        stream_time=True,
        place=None if runner is None else place_of_bay(bay),
    )
    return perform(job, args)
