"""`station setup`: a guided window that measures a bay and saves its profile."""

from __future__ import annotations

import argparse
import contextlib
from dataclasses import replace
from pathlib import Path

from rich.markup import escape

from station.clock import StreamClock, WallClock
from station.coach.setup.course import STEP_NAMES, SetupCourse
from station.coach.setup.values import Camera
from station.commands.setup_devices import Devices
from station.commands.setup_screen import WindowedSetup
from station.commands.simulated import demo_scenario, set_up_source
from station.commands.telling import OutConsole
from station.errors import BadInput
from station.keep.records_folder import look_at
from station.live import StopWish, signals_wish
from station.live.setup.loop import SetupLoop
from station.see.cameras import found_cameras
from station.see.clip import ClipSource
from station.see.sources import is_camera
from station.settings import read_bay, read_words
from station.settings.resources import names
from station.values import Bay

BAY_FILE = "bay.toml"
DEMO = "demo"


def add_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "setup",
        description="Lead whoever sets a bay up through all that has to be measured there, with "
        "the live picture, and save the bay's profile. A profile that is there already is the "
        "start, its comments stay, and the file before is kept beside it.",
        epilog="steps, for --step: " + ", ".join(STEP_NAMES),
    )
    parser.add_argument(
        "--bay", metavar="FILE", default=BAY_FILE, help=f"profile to write (default: {BAY_FILE})"
    )
    parser.add_argument("--step", choices=STEP_NAMES, help="do this one step again")
    parser.add_argument(
        "--source",
        metavar="S",
        help="camera, video file, or 'demo' (default: those that are found)",
    )
    parser.add_argument(
        "--language", metavar="L", help="of the screen, and of the bay from then on"
    )
    parser.add_argument("--mute", action="store_true", help="no sound")
    parser.add_argument("--window", action="store_true", help="a window instead of full screen")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Lead through the set-up until the profile is saved or the window closed."""
    path = Path(args.bay)
    bay = bay_to_set_up(path, args.step)
    if args.language is not None:
        bay = replace(bay, language=checked_language(args.language))
    words = read_words(bay.language)
    cameras = cameras_for(args.source, bay)
    console = OutConsole()
    clock, stop = WallClock(), StopWish()
    with contextlib.ExitStack() as stack:
        stack.enter_context(signals_wish(stop))
        screen = WindowedSetup(words, not args.window)
        stack.callback(screen.close)
        scenario = demo_scenario()
        devices = Devices(path, clock, lambda: set_up_source(scenario), args.mute)
        stack.callback(devices.end)
        course = SetupCourse(bay, cameras, args.step)
        if args.language is not None:
            draft = course.draft
            course.draft = replace(draft, touched=draft.touched | {"screen.language"})
        why = SetupLoop(course, screen, devices, clock).run(stop)
    saved = course.saved
    if saved is None:
        console.print(f"Nothing was saved{'' if why is None else f': {why}'}.", soft_wrap=True)
        return 0
    kept = "" if saved.kept is None else f" (the one before: {saved.kept})"
    console.print(
        escape(f"Saved: {saved.path}{kept}. Next: station check --bay {saved.path}"), soft_wrap=True
    )
    return 0


def bay_to_set_up(path: Path, step: str | None) -> Bay:
    """Return the profile as it is, or an ordinary one.

    Raises:
        BadInput: It holds mistakes, cannot be written, or is to have one step done again and is
            not there.
    """
    if path.exists():
        try:
            bay = read_bay(path)
        except BadInput as fault:
            raise BadInput(
                f"{fault}\n  put it right, or set up a new one: station setup --bay OTHER.toml"
            ) from None
    elif step is not None:
        raise BadInput(f"--step {step}: there is no {path} yet; run station setup without --step")
    else:
        bay = Bay()
    room = look_at(path.absolute().parent)
    if room.trouble is not None:
        raise BadInput(
            f"{path}: cannot be written there ({room.trouble}); name another file by --bay"
        )
    return bay


def checked_language(text: str) -> str:
    """Return a language that the station has; raise BadInput for another."""
    known = names("config/words")
    if text not in known:
        raise BadInput(f"--language {text}: no such words; allowed: {', '.join(known)}")
    return text


def cameras_for(source: str | None, bay: Bay) -> tuple[Camera, ...]:
    """Return what can be picked: the source that is named, or the cameras that are found.

    Raises:
        BadInput: The source is a file that is no video.
    """
    if source is not None:
        text = source.strip()
        if not text:
            raise BadInput("--source is empty; allowed: a camera, a video file, or demo")
        if text != DEMO and not is_camera(text):
            probe = ClipSource(text)
            probe.start(StreamClock(), paced=False)
            probe.stop()
        return (Camera(int(text) if text.isdigit() else text, text),)
    found = [Camera(path, name) for path, name in found_cameras()]
    known = {camera.device for camera in found}
    own = bay.device
    if isinstance(own, int):
        own = f"/dev/video{own}"
    if own not in known and (found or bay.device != Bay().device):
        found.append(Camera(bay.device, str(bay.device)))
    return tuple(found)
