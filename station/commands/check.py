"""`station check`: is everything of this bay there, and does it work?"""

from __future__ import annotations

import argparse
import sys
import traceback
from collections.abc import Callable
from dataclasses import replace

from station.clock import Clock, WallClock
from station.commands import options
from station.commands.checks.camera import WATCH_S, Watched, camera_findings, watch
from station.commands.checks.clap import clap_findings
from station.commands.checks.finding import (
    OURS,
    Finding,
    exit_code,
    guarded,
    table,
)
from station.commands.checks.place import disk_findings, screen_findings
from station.commands.checks.sound import BEAT_S, SoundCheck
from station.commands.checks.view import view_findings
from station.commands.checks.work import WORK_S, check_model
from station.commands.run import source_of
from station.commands.telling import OutConsole
from station.errors import BadInput
from station.live import SIDE_BY_SIDE, ThreadedFeed
from station.ports import FrameSource
from station.see.pose_model import MediapipePose
from station.sound.microphone import PortAudioMicrophone
from station.values import Bay

_SHORTEST_S, _LONGEST_S = 0.5, 600.0


def add_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "check",
        description="Check everything that a session in this bay needs, each with what to do. "
        "It plays the beat and every cue, so nobody should be running, and listens to a microphone "
        "for its own ticks, where there is one. Nothing is written.",
        epilog="exit codes: 0 all well, or nothing worse than 'look at it'; 3 a device is missing, "
        "busy or of no use; 2 bad input, or a folder that cannot be written",
    )
    parser.add_argument("--bay", metavar="FILE", help="bay profile (bay.toml)")
    parser.add_argument(
        "--source",
        metavar="S",
        help="look at this camera, video file or 'demo' (default: the bay's camera)",
    )
    parser.add_argument(
        "--seconds",
        type=options.seconds,
        metavar="N",
        help=f"play the beat, watch the camera and time the pose model for N seconds each "
        f"(default: {BEAT_S:g}, {WATCH_S:g} and {WORK_S:g})",
    )
    parser.add_argument(
        "--clap",
        action="store_true",
        help="hold the clocks of camera and microphone against each other: somebody claps",
    )
    parser.add_argument("--headless", action="store_true", help="no display is needed here")
    parser.add_argument("--mute", action="store_true", help="play nothing; sound is not checked")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Check, tell all in one table, and return the exit code."""
    bay = options.bay_of(args)
    kind, source = source_of(args.source, bay)
    if args.seconds is not None and not _SHORTEST_S <= args.seconds <= _LONGEST_S:
        raise BadInput(
            f"--seconds {args.seconds:g}; allowed: {_SHORTEST_S:g} to {_LONGEST_S:g} seconds"
        )
    findings: list[Finding] = []
    cut_short = False
    try:
        _Bench(args, bay, kind, source, findings).run()
    except KeyboardInterrupt:
        cut_short = True
    console = OutConsole()
    console.print(table(findings, console))
    if cut_short:
        console.print("Ended by Ctrl-C before all was checked.")
        return OURS
    code = exit_code(findings)
    console.print(_closing(findings, code), soft_wrap=True)
    return code


def _closing(findings: list[Finding], code: int) -> str:
    faults = sum(finding.verdict == "fault" for finding in findings)
    looks = sum(finding.verdict == "look" for finding in findings)
    if faults:
        return f"{faults} fault{'s' * (faults > 1)}, {looks} to look at; exit code {code}."
    if looks:
        return f"No fault; {looks} to look at: a session runs, but not as well as it could."
    return "All is well."


class _Bench:
    """Runs the checks one after the other; whatever one meets, the others go on."""

    def __init__(
        self,
        args: argparse.Namespace,
        bay: Bay,
        kind: str,
        source: FrameSource,
        findings: list[Finding],
    ) -> None:
        self._args = args
        self._bay = bay
        self._kind = kind
        self._source = source
        self._findings = findings
        self._clock: Clock = WallClock()
        self._sound = SoundCheck(bay, self._clock, self._tell, self._seconds(BEAT_S))
        self._seen: Watched | None = None

    def run(self) -> None:
        try:
            if self._args.mute:
                self._findings.append(Finding("sound", "--mute: nothing played", "unchecked"))
            else:
                self._tell("The beat and every cue will be heard: nobody should be running now.")
                self._add("sound", self._sound.run)
            self._add("camera", self._camera)
            self._add("pose model", self._model)
            self._add("sound without gaps", self._sound.gaps)
        finally:
            self._sound.close()
        if self._args.clap:
            self._add("clap", self._clap)
        self._add("disk", lambda: disk_findings(self._bay))
        if self._args.headless:
            self._findings.append(Finding("screen", "--headless", "unchecked"))
        else:
            self._add("screen", lambda: screen_findings(self._bay))

    def _camera(self) -> list[Finding]:
        seconds = self._seconds(WATCH_S)
        # A clock of its own: a clip's first picture is due at its 0.
        self._seen = watch(self._kind, self._source, WallClock(), seconds, self._tell)
        return camera_findings(self._seen, self._bay)

    def _model(self) -> list[Finding]:
        self._tell("pose model: loading")
        begun_s = self._clock.now_s()
        models = [MediapipePose() for _ in range(SIDE_BY_SIDE)]
        load_s = self._clock.now_s() - begun_s
        seen, fps = self._seen, self._bay.fps
        if seen is not None and self._kind != "camera":
            fps = seen.info.fps
        try:
            self._sound.keep_on()
            found = check_model(
                models,
                load_s,
                fps,
                self._clock,
                self._seconds(WORK_S),
                self._tell,
                self._sound.heed,
            )
            return found if seen is None else [*found, *view_findings(seen, self._bay, models[0])]
        finally:
            for model in models:
                model.close()

    def _clap(self) -> list[Finding]:
        as_they_come = replace(self._bay, picture_late_s=0.0)
        _, source = source_of(self._args.source, as_they_come)
        feed, clock = ThreadedFeed(source, MediapipePose()), WallClock()
        try:
            feed.start(clock)
            return clap_findings(feed, PortAudioMicrophone(), clock, self._bay, self._tell)
        finally:
            feed.stop()

    def _add(self, what: str, check: Callable[[], list[Finding]]) -> None:
        self._findings += guarded(what, check, self._show_trace)

    def _seconds(self, usual_s: float) -> float:
        return usual_s if self._args.seconds is None else float(self._args.seconds)

    def _show_trace(self, fault: Exception) -> None:
        if self._args.debug:
            traceback.print_exception(type(fault), fault, fault.__traceback__)

    def _tell(self, text: str) -> None:
        print(text, file=sys.stderr, flush=True)
