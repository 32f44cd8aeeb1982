"""`station run`: a session on a camera, a clip or the demo's runner."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from datetime import datetime
from typing import cast

from station.clock import Clock, StreamClock
from station.coach.plan import Plan
from station.commands import options
from station.commands.perform import Job, perform
from station.commands.store_options import check_film, open_log, place_of_bay
from station.errors import BadInput
from station.live import SIDE_BY_SIDE, AheadFeed, Feed, LockStepFeed, ThreadedFeed
from station.live.faults.board import Log, no_log
from station.live.faults.renewing import RenewingModel
from station.ports import FrameSource, Listener
from station.see.clip import ClipSource
from station.see.pose_model import MediapipePose
from station.see.sources import is_camera, open_source
from station.values import Bay

DEMO = "demo"


def add_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "run",
        description="Run a session. Without a plan it is one free run without an end: Esc twice in "
        "the window or Ctrl-C ends it, with everything written.",
        epilog='example: station run --source clip.mp4 --fast --belt-speed "10 km/h"',
    )
    parser.add_argument(
        "--source",
        metavar="S",
        help="camera index or path, a video file, or 'demo' (default: the bay's camera)",
    )
    options.add_bay_and_plan(parser)
    options.add_runner(parser)
    options.add_showing(parser)
    options.add_out(parser, "out/ and the date and time")
    parser.add_argument(
        "--video", action="store_true", help="record what the screen shows, and its sound"
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run a session."""
    runner = options.check_runner(args.runner)
    bay = options.bay_of(args)
    plan = options.plan_of(args, bay)
    kind, source = source_of(args.source, bay, plan if args.plan else None)
    if args.video:
        check_film(kind, bay, runner)
    if kind == "demo" and args.bay is None:
        from station.commands.simulated import demo_bay, demo_scenario

        bay = demo_bay(demo_scenario())
    if args.fast and kind == "camera":
        raise BadInput("--fast works through a recording or the demo; a camera has its own pace")
    # Only a camera's session has faults that somebody may look into later.
    log = open_log(bay) if kind == "camera" else None
    job = Job(
        kind=kind,
        make_feed=feed_maker(source, args.fast, log or no_log),
        log=log or no_log,
        source=source,
        plan=plan,
        bay=bay,
        out=options.out_folder(args, datetime.now()),
        runner=runner,
        stream_time=args.fast,
        window=not args.headless,
        video=args.video,
        mute=args.mute,
        seconds=args.seconds,
        place=None if runner is None else place_of_bay(bay),
    )
    try:
        return perform(job, args)
    finally:
        if log is not None:
            log.close()


def source_of(
    text: str | None, bay: Bay, plan: Plan | None = None, patient: bool = False
) -> tuple[str, FrameSource]:
    """Return the kind of source (`camera`, `clip` or `demo`), and the source, not yet started.

    Args:
        text: As `--source` has it; None: the bay's camera.
        bay: Names the camera, and what it is asked for.
        plan: The demo's runner runs for as long as it takes; None: for the demo's own time.
        patient: A camera that is lost is waited for, however long it takes.

    Raises:
        BadInput: There is no such clip, or the text is no source.
    """
    text = str(bay.device) if text is None else text.strip()
    if text == DEMO:
        from station.commands.simulated import demo_scenario, demo_source  # takes scipy along

        return "demo", demo_source(demo_scenario(), plan)
    source = open_source(
        text, bay.width, bay.height, bay.fps, bay.exposure_s, bay.picture_late_s, patient
    )
    if is_camera(text):
        return "camera", source
    probe = ClipSource(text)  # a wrong file is told at once, before the model is loaded
    probe.start(StreamClock(), paced=False)
    probe.stop()
    return "clip", source


def feed_maker(source: FrameSource, fast: bool, log: Log = no_log) -> Callable[[Clock], Feed]:
    """Return what makes the feed once the session's clock is there; it loads the pose models.

    Args:
        source: Not yet started.
        fast: Every frame in order, as fast as it goes.
        log: Told what the pose model failed of, where it does.
    """

    def make(clock: Clock) -> Feed:
        def model() -> RenewingModel:
            return RenewingModel(
                MediapipePose, clock, lambda said: log("error", "pose_failed_of", said=said)
            )

        if fast and isinstance(source, Listener):
            # A runner who hears is asked for each frame when all before it has been worked through.
            return LockStepFeed(source, model(), cast(StreamClock, clock))
        models = [model() for _ in range(SIDE_BY_SIDE)]
        if fast:
            return AheadFeed(source, models, cast(StreamClock, clock))
        return ThreadedFeed(source, *models)

    return make
