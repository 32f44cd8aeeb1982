"""`station demo`: an invented runner on an invented treadmill; all else is real."""

from __future__ import annotations

import argparse
from pathlib import Path

from station.commands import options
from station.commands.perform import Job, perform
from station.commands.run import feed_maker
from station.commands.simulated import demo_bay, demo_scenario, demo_source
from station.commands.store_options import place_of_bay
from station.settings import read_plan
from station.settings.resources import resource
from station.show.window import display_available

OUT = Path("out/demo")


def add_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "demo",
        description="An invented runner hears the beat and the cues and finds a shorter step; "
        "pictures, pose model, sound and screen are real. Writes steps, summary, the runner's "
        "exact truth, and the screen as a clip with its sound.",
    )
    options.add_showing(parser)
    options.add_runner(parser)
    options.add_out(parser, str(OUT))
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the demo."""
    scenario = demo_scenario()
    runner = options.check_runner(args.runner)
    bay = demo_bay(scenario)
    source = demo_source(scenario)
    headless = args.headless or not display_available()
    notices = () if args.headless or not headless else ("no display was found: no window is shown",)
    job = Job(
        kind="demo",
        make_feed=feed_maker(source, args.fast),
        source=source,
        plan=read_plan(resource(f"{options.PLANS_FOLDER}/{scenario.plan}.toml")),
        bay=bay,
        out=OUT if args.out is None else Path(args.out),
        runner=runner or scenario.runner,
        stream_time=args.fast,
        window=not headless,
        video=True,
        mute=args.mute,
        replace_demo=True,
        seconds=args.seconds,
        notices=notices,
        place=None if runner is None else place_of_bay(bay),
    )
    return perform(job, args)
