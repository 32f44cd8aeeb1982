"""`station bay`: unattended visits, one after the other."""

from __future__ import annotations

import argparse
import contextlib
from dataclasses import replace
from pathlib import Path

from rich.markup import escape

from station.clock import WallClock
from station.coach.plan import Plan
from station.coach.visit.course import VisitChange
from station.commands import options
from station.commands.bay_screen import WindowedBay
from station.commands.bay_visits import BayParts, BayVisits, StoreBook
from station.commands.coach_page import coach_page
from station.commands.run import DEMO, feed_maker, source_of
from station.commands.service import Supervisor
from station.commands.simulated import demo_bay, demo_scenario, visiting_source
from station.commands.start_check import start_findings, tell_start
from station.commands.store_options import open_log, place_of_bay
from station.commands.telling import OutConsole
from station.errors import BadInput
from station.keep.store import Records
from station.live import Feed, StopWish, ThreadedFeed, signals_wish
from station.live.bay.looks import LooksBeside
from station.live.bay.loop import BayLoop, BaySettings
from station.live.faults.board import FaultBoard
from station.live.faults.watchman import Watchman
from station.live.heartbeat import Heartbeat
from station.ports import FrameSource, Ticking
from station.see.second_look import SecondLook
from station.settings import read_words
from station.simulate.visiting import VisitingSource
from station.sound.choose import open_bays_speaker
from station.values import Bay, ViewProfile


def add_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "bay",
        description="Lead runners through unattended visits, one after the other. Only drills "
        "that need no coach are offered, under each runner's own caps. A person must be in reach: "
        "the station calls for help, it cannot give any, and it cannot stop the belt.",
        epilog="example: station bay --bay bay.toml --plan retention",
    )
    parser.add_argument(
        "--bay", metavar="FILE", required=True, help="bay profile (bay.toml) with [visit]"
    )
    parser.add_argument(
        "--plan", metavar="FILE", required=True,
        help="drill plan (plan.toml), or the name of a shipped one",
    )  # fmt: skip
    parser.add_argument(
        "--source",
        metavar="S",
        help="camera, video file, or 'demo': a drawn runner who does what the pages ask for "
        "(default: the bay's camera)",
    )
    parser.add_argument("--mute", action="store_true", help="no sound: the screen alone calls")
    parser.add_argument("--window", action="store_true", help="a window instead of full screen")
    options.add_out(parser, "visits in the records' folder")
    parser.set_defaults(run=run, belt_speed=None)


def run(args: argparse.Namespace) -> int:
    """Lead visits until the window is closed or Ctrl-C."""
    bay = options.bay_of(args)
    plan = options.plan_of(args, bay)
    staff_code = bay.staff_code
    if staff_code is None:
        raise BadInput(
            f"{args.bay}: [visit] staff_code is missing; unattended visits need 4 to 8 digits "
            'that staff know, such as staff_code = "2468"'
        )
    kind, source = _source_of(args.source, bay, plan)
    if isinstance(source, VisitingSource):  # it stands in a bay of its own
        bay = replace(bay, view=demo_bay(demo_scenario()).view, belt_rear_px=None)
    place = place_of_bay(bay)
    with Records(place) as records:
        opened = list(records.notices)
    words = read_words(bay.language)
    console = OutConsole()
    supervisor = Supervisor()

    def say(line: str) -> None:
        console.print(escape(line), soft_wrap=True)

    stop, clock = StopWish(), WallClock()
    with contextlib.ExitStack() as stack:
        stack.enter_context(signals_wish(stop))
        station_log = open_log(bay)
        stack.callback(station_log.close)
        if station_log.trouble is not None:
            say(station_log.trouble)
        feed = feed_maker(source, False, station_log)(clock)
        stack.callback(feed.stop)
        screen = WindowedBay(bay, words, not args.window)
        stack.callback(screen.close)
        speaker = open_bays_speaker(clock, bay, False, args.mute)
        stack.callback(speaker.stop)
        for line in (*opened, *([speaker.notice] if speaker.notice else [])):
            say(line)
        info = feed.start(clock)
        out = Path(args.out) if args.out is not None else place.folder / "visits"
        parts = BayParts(bay, place, words, feed, speaker, clock, info, kind, source, out, say)
        found = start_findings(bay, kind, info, feed, source, clock, speaker.notice)
        tell_start(found, screen, clock, stop, say, station_log)
        settings = BaySettings(
            plan, staff_code, bay.belt_speed_limit_mps, _rear(bay, info.width, info.height),
            bay.view.faces,
        )  # fmt: skip
        looks = LooksBeside(SecondLook())
        stack.callback(looks.stop)
        looks.start()

        def log(change: VisitChange) -> None:
            say(f"{change.t_s:8.1f} s  {change.to}: {change.why}")
            station_log("info", f"visit_{change.to}", why=change.why)
            supervisor.status(change.to)
            if isinstance(source, VisitingSource):
                source.follow(change.to, change.t_s)

        page = coach_page(bay, words, allowed=CALM)
        stack.callback(page.stop)
        board = FaultBoard(words, station_log)
        watchman = Watchman(board, clock, (source, feed, speaker), (place.folder, out))
        loop = BayLoop(
            settings, feed, screen, speaker, clock, StoreBook(place, say), BayVisits(parts), log,
            looks,
            watchman,
            page,
        )  # fmt: skip
        alive = Alive(loop, feed, source, supervisor)
        station_log("info", "bay_began", source=kind)
        why = loop.run(stop, each_turn=alive.turn)
        supervisor.stopping()
        station_log("info", "bay_ended", why=why)
    say(f"Ended: {why}. {loop.visits_done} visits.")
    return 0


CALM = frozenset({"pause", "go", "rate_down", "speed_down", "feedback", "sound", "end"})
"""What a phone may do to somebody's visit: nothing that asks more of who runs alone."""


class Alive:
    """Lets the supervisor know that the bay's screen, camera and pose model go on."""

    def __init__(self, loop: BayLoop, feed: Feed, source: object, supervisor: Supervisor) -> None:
        """Take what is counted.

        Args:
            loop: Shows pages and pictures.
            feed: Its threads are counted where it has some.
            source: Its thread is counted where it has one.
            supervisor: Told.
        """
        self._loop, self._feed, self._source = loop, feed, source
        self._supervisor = supervisor
        self._ready = False
        self._heart = Heartbeat(supervisor.beat, supervisor.beat_every_s)

    def turn(self, t_s: float) -> None:
        """Tell of the first page, and beat from then on; called in each turn of the loop."""
        if not self._ready and self._loop.shown:
            self._ready = True
            self._supervisor.ready()
            self._supervisor.status(self._loop.visit.state)
        counts = [self._loop.shown]
        if isinstance(self._feed, ThreadedFeed):
            counts += self._feed.ticks
        if isinstance(self._source, Ticking):
            counts.append(self._source.ticks)
        self._heart.turn(t_s, counts)


def _source_of(text: str | None, bay: Bay, plan: Plan) -> tuple[str, FrameSource]:
    """Return the kind of source and the source; the demo's runner does what the pages ask for."""
    if text == DEMO:
        return "demo", visiting_source(demo_scenario(), plan)
    return source_of(text, bay, patient=True)


def _rear(bay: Bay, width: int, height: int) -> tuple[float, float] | None:
    """Return the belt's rear end in pixels of the pictures as they come."""
    if bay.belt_rear_px is None:
        return None
    view: ViewProfile = bay.view
    x, y = bay.belt_rear_px
    return x * width / (view.width or width), y * height / (view.height or height)
