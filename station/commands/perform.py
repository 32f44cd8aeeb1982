"""Performs one session: opens its parts, runs the loop, writes what there is, closes all."""

from __future__ import annotations

import argparse
import contextlib
from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from rich.markup import escape

from station.clock import Clock, StreamClock, WallClock
from station.coach.plan import Plan
from station.coach.progress import DEFAULT_COUNTDOWN_S, SessionProgress
from station.coach.words import Words
from station.commands.coach_page import coach_page
from station.commands.film import Film
from station.commands.records import heading, outcome
from station.commands.rules import feedback_rule
from station.commands.screens import open_screen
from station.commands.telling import (
    OutConsole,
    ProgressLine,
    closing_table,
    fallback_notice,
)
from station.commands.visit_record import VisitRecord, open_record
from station.errors import NothingUsable, StationError
from station.keep import (
    Place,
    SessionFile,
    SessionFolder,
    StepsWriter,
    open_folder,
    owner_only,
    write_truth,
)
from station.keep.session_file import RUNNING
from station.live import Coaching, Ending, Feed, Session, StopWish, run_loop, signals_wish
from station.live.faults.board import FaultBoard, Log, no_log
from station.live.faults.watchman import Watchman
from station.live.findings import effect_of_cues, findings_told, rate_test_of
from station.live.stages import Timer, untimed
from station.measure import GaitMeter
from station.ports import Listener, SoundTeller, SourceInfo, Speaker, TruthTeller
from station.settings import read_words
from station.settings.belt_line import belt_line_notices
from station.sound.choose import open_bays_speaker
from station.values import Bay, Belt, Fault

DONE_SHOWN_S = 6.0
"""How long the window stays when the plan is done: to read it and to slow the belt down."""


@dataclass(frozen=True)
class Job:
    """One session to be performed."""

    kind: str
    """`camera`, `clip`, `demo` or `trace`."""
    make_feed: Callable[[Clock], Feed]
    source: object
    """What the feed is fed from: it may listen, and it may know the truth."""
    plan: Plan
    bay: Bay
    out: Path
    runner: str | None = None
    stream_time: bool = False
    """Worked through as fast as it goes, on the stream's own time."""
    window: bool = False
    video: bool = False
    mute: bool = False
    replace_demo: bool = False
    """An earlier demo's files in the folder may be replaced."""
    seconds: float | None = None
    notices: tuple[str, ...] = ()
    """What is known before the start."""
    place: Place | None = None
    """Where the visit is put on record; None: it is not."""
    log: Log = no_log
    """Told of faults and of the session's start and end."""
    timer: Timer = untimed
    """Times the stages of a frame's way."""


def perform(job: Job, args: argparse.Namespace) -> int:
    """Perform a session.

    Args:
        job: What and with what.
        args: Gets `session_folder`, so that a fault can leave its trace there.

    Returns:
        The exit code 0.

    Raises:
        BadInput: The source or the folder cannot be used; nothing usable was in the source.
        DeviceTrouble: A device is missing, busy or lost; what was measured is written.
    """
    words = read_words(job.bay.language)
    with owner_only():
        folder = open_folder(job.out, job.replace_demo)
        try:
            return _Performance(job, folder, words, args).run()
        finally:
            folder.discard_if_empty()


class _Performance:
    """The one place that holds all parts of a running session."""

    def __init__(
        self, job: Job, folder: SessionFolder, words: Words, args: argparse.Namespace
    ) -> None:
        self._job = job
        self._folder = folder
        self._words = words
        self._args = args
        self._clock: Clock = StreamClock() if job.stream_time else WallClock()
        self._file = SessionFile(folder.session)
        self._notices = [*job.notices, *belt_line_notices(job.plan, job.bay.view)]
        self._began = datetime.now()
        self._head: dict[str, Any] = {}
        self._film: Film | None = None
        self._speaker: Speaker | None = None
        self._sound_said: list[str] = []
        self._record = VisitRecord(None, None)
        self._faults = FaultBoard(words, job.log)
        self._watchman: Watchman | None = None
        self._unwritten: StationError | None = None

    def run(self) -> int:
        job = self._job
        stop = StopWish()
        with contextlib.ExitStack() as stack:
            stack.enter_context(signals_wish(stop))
            feed = job.make_feed(self._clock)
            stack.callback(feed.stop)
            screen = open_screen(
                job.window,
                job.video,
                job.bay,
                self._folder.video,
                self._folder.still,
                self._live,
            )
            if screen is not None:
                screen.timer = job.timer
                stack.callback(screen.close)
            record = self._record = stack.enter_context(open_record(job.place, job.runner))
            if isinstance(self._clock, WallClock):
                self._clock = WallClock()  # model and window took their time to open
            speaker = open_bays_speaker(self._clock, job.bay, job.stream_time, job.mute)
            stack.callback(speaker.stop)
            self._speaker = speaker
            if speaker.notice is not None:
                self._notices.append(speaker.notice)
            info = feed.start(self._clock)
            self._args.session_folder = self._folder.path
            meter = GaitMeter(job.bay.view, _first_belt(job.plan))
            progress = SessionProgress(
                job.plan, self._countdown_s, job.bay.belt_speed_limit_mps,
                hops_limit=job.bay.hops_limit,
            )  # fmt: skip
            writer = stack.enter_context(StepsWriter(self._folder.steps))
            record.begin(job.kind, job.plan, job.bay, self._folder.path, writer, self._clock)
            session = Session(
                meter,
                Coaching(
                    progress,
                    speaker,
                    meter.set_belt,
                    known=record.known_in(job.bay.name),
                    rule=feedback_rule(job.bay),
                    far_leg_error_deg=job.bay.far_leg_error_deg,
                    words=self._words,
                ),
                speaker,
                self._clock,
                record,
                job.source if isinstance(job.source, Listener) else None,
                job.stream_time,
                self._words,
                job.bay.view.belt_line is not None,
            )
            folders = [self._folder.path, *([] if job.place is None else [job.place.folder])]
            self._faults.note = progress.log.note
            self._watchman = Watchman(
                self._faults, self._clock, (job.source, feed, speaker, screen), folders
            )
            self._head = heading(
                job.kind, info, job.plan, job.bay, job.runner, self._began, job.stream_time, speaker
            )
            self._write(session, feed, RUNNING)
            job.log("info", "session_began", source=job.kind)
            if screen is not None and job.video:
                self._film = Film(self._folder, speaker, screen, info.fps, job.mute, self._notices)
            page = None
            if self._live:
                page = coach_page(job.bay, self._words, job.place, job.runner)
                stack.callback(page.stop)
            line = stack.enter_context(ProgressLine(job.kind, self._total_s(info)))
            try:
                ending = run_loop(
                    feed,
                    session,
                    self._clock,
                    stop,
                    screen,
                    job.seconds,
                    DONE_SHOWN_S if job.window and self._live else 0.0,
                    lambda: self._told_now(speaker),
                    line.tell,
                    lambda: self._each_turn(speaker, session),
                    page,
                    job.timer,
                )
            except BaseException as fault:
                self._save_what_there_is(session, feed, fault)
                raise
            session.finish()
            feed.stop()
            nothing = self._nothing_usable(session, ending)
            self._add_closing_notices(session, feed, ending)
            self._write_truth()
            why = ending.why
            if nothing:
                why = "no step found" if session.view_counter.in_view else "nobody in view"
            self._write_or_keep(session, feed, why)  # first, whatever becomes of the film
            self._end_record(session, feed, why)
            job.log("info", "session_ended", why=why)
            if self._film is not None:
                self._film.finish()
                self._write_or_keep(session, feed, why)
            if self._unwritten is not None:  # all else is done; perhaps there is room again
                self._write(session, feed, why)
        if nothing:
            if session.view_counter.in_view:
                raise NothingUsable(
                    f"{info.name}: somebody was in view, but from start to end no step was found; "
                    "check the belt speed, which way the runner faces, the frame rate, that both "
                    "lower legs are in the picture, and that the recording holds three steps or "
                    f"more; what there is was written to {self._folder.path}"
                )
            raise NothingUsable(
                f"{info.name}: nobody in view with both lower legs from start to end, so there is "
                f"nothing to measure; what there is was written to {self._folder.path}"
            )
        self._tell(session, ending)
        record.raise_fault()
        if self._film is not None and self._film.fault is not None:
            raise self._film.fault
        return 0

    def _each_turn(self, speaker: Speaker, session: Session) -> None:
        self._record.follow(session)
        if self._watchman is not None:
            full = (Fault("disk_full"),) if self._record.disk_full else ()
            self._watchman.turn((*session.faults(), *full))
            session.scenes.blind = self._faults.blind
            session.misled = self._faults.misleading
        self._told_now(speaker)  # with no screen, too: what it says may be gone by the end
        if self._film is not None:
            self._film.follow("disk_full" in self._faults.keys)

    def _told_now(self, speaker: Speaker) -> tuple[str, ...]:
        """Return what is to be on the screen; what the speaker says is kept for the record."""
        before = self._job.notices  # about the start: for the terminal and the record alone
        told = tuple(n for n in self._notices if n not in before) + self._record.notices
        told = (*told, *self._faults.lines)
        now = speaker.notice
        if now is None or now in self._notices:
            return told
        if now not in self._sound_said:
            self._sound_said.append(now)
        return told if "sound_gone" in self._faults.keys else (*told, self._words.of(now))

    # --- parts ----------------------------------------------------------------------------------

    @property
    def _live(self) -> bool:
        return not self._job.stream_time

    @property
    def _countdown_s(self) -> float:
        """A runner in a recording does not wait for a countdown."""
        return DEFAULT_COUNTDOWN_S if self._job.kind == "camera" else 0.0

    def _total_s(self, info: SourceInfo) -> float | None:
        """Return how long it will take at most, in stream time; None for a camera."""
        if self._job.kind == "camera":
            return None
        lengths = [self._job.seconds]
        if info.frames is not None and info.fps > 0.0:
            lengths.append(info.frames / info.fps)
        plan_s = sum(drill.seconds or float("inf") for drill in self._job.plan.drills)
        known = [s for s in (*lengths, plan_s) if s is not None and s != float("inf")]
        return min(known, default=None)

    def _nothing_usable(self, session: Session, ending: Ending) -> bool:
        """Whether a recording was gone through and held nothing to measure."""
        return ending.of_source and not session.recorder.steps

    def _add_closing_notices(self, session: Session, feed: Feed, ending: Ending) -> None:
        if ending.note is not None:
            self._notices.append(ending.note)
        if feed.dropped:
            self._notices.append(
                f"{feed.dropped} of {feed.captured} pictures were left out: they came faster than "
                "this machine could work"
            )
        if session.view_counter.in_view and not session.recorder.steps:
            self._notices.append("somebody was in view, but no step was found")

    def _save_what_there_is(self, session: Session, feed: Feed, fault: BaseException) -> None:
        """Write what was measured before a fault; a second fault must not hide the first."""
        at_once = isinstance(fault, KeyboardInterrupt)
        why = "Ctrl-C" if at_once else f"error: {fault}"
        with contextlib.suppress(Exception):
            session.finish()
        with contextlib.suppress(Exception):
            self._write_truth()
        with contextlib.suppress(Exception):
            self._write(session, feed, why)  # first, whatever becomes of the film
        with contextlib.suppress(Exception):
            if self._film is not None:
                self._film.finish_after_a_fault(join=not at_once)
        with contextlib.suppress(Exception):
            self._write(session, feed, why)
            self._end_record(session, feed, why)

    def _end_record(self, session: Session, feed: Feed, why: str) -> None:
        """End the visit on record; what that has to say goes into the session's file, too."""
        if self._record.end(session, outcome(session, feed, self._told_notices(), why), why):
            self._write_or_keep(session, feed, why)

    def _told_notices(self) -> list[str]:
        return [*self._notices, *self._sound_said, *self._record.told, *self._faults.kept]

    def _write_truth(self) -> None:
        if isinstance(self._job.source, TruthTeller):
            write_truth(self._folder.truth, self._job.source.truth())

    def _write_or_keep(self, session: Session, feed: Feed, ended: str) -> None:
        """Write `session.json`; a disk that does not take it must not keep the rest from it."""
        try:
            self._write(session, feed, ended)
            self._unwritten = None
        except StationError as fault:
            self._unwritten = fault

    def _write(self, session: Session, feed: Feed, ended: str) -> None:
        if self._speaker is not None:
            self._told_now(self._speaker)
        told = outcome(session, feed, self._told_notices(), ended)
        if isinstance(self._speaker, SoundTeller):
            told["sound_counts"] = asdict(self._speaker.counts())
        film = None if self._film is None else self._film.as_dict()
        self._file.write({**self._head, **told, "film": film})

    def _tell(self, session: Session, ending: Ending) -> None:
        console = OutConsole()
        console.print(closing_table(session.coaching.runs))
        fallback = fallback_notice(session.coaching.runs)
        runs, baselines = session.coaching.runs, session.coaching.baselines
        for line in findings_told(runs, effect_of_cues(runs), rate_test_of(runs, baselines)):
            console.print(escape(line), soft_wrap=True)
        for notice in (*fallback, *self._told_notices(), *session.board.kept):
            console.print(f"note: {escape(notice)}", soft_wrap=True)
        console.print(
            f"Ended: {escape(ending.why)}. {session.recorder.steps} steps in "
            f"{escape(str(self._folder.path))}", soft_wrap=True,
        )  # fmt: skip


def _first_belt(plan: Plan) -> Belt | None:
    return plan.drills[0].belt
