"""The unattended bay's loop on the main thread: pages, sessions, the watch, and nothing else."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from station.clock import Clock
from station.coach.commands import AnswerFelt, ConfirmBelt, EndSession, Pause, Resume
from station.coach.scene import Scene, Sentence
from station.coach.visit.course import Visit, VisitChange
from station.coach.visit.inputs import CallStaff, SessionOver, ViewGood, VisitInput
from station.coach.visit.page import Page
from station.live.bay.blind import SENTENCE, BlindGuard
from station.live.bay.desk import BaySettings, Desk
from station.live.bay.in_view import InView
from station.live.bay.looks import Looks
from station.live.bay.ports import BayInput, BayScreen, OpensVisits, OpenVisit
from station.live.bay.ports import RunnerBook as Book
from station.live.bay.watch import SessionWatch, WatchWord
from station.live.coach_page import CoachPage
from station.live.controls import Controls
from station.live.faults.watchman import Watchman
from station.live.feed import Feed, Seen
from station.live.loop import END_OF_STREAM, TIME_IS_UP, WAIT_S, dropped_notice
from station.live.session import Session
from station.live.showing import STALE_S, Showing
from station.live.stopping import StopWish
from station.ports import EndOfStream, Speaker, StaffCaller
from station.values import Fault

DONE_SHOWN_S = 10.0
"""How long the last screen of a session stays: to slow the belt down and step off."""


class BayLoop:
    """Leads one visit after the other. Main thread only."""

    def __init__(
        self,
        settings: BaySettings,
        feed: Feed,
        screen: BayScreen,
        speaker: Speaker,
        clock: Clock,
        book: Book,
        visits: OpensVisits,
        log: Callable[[VisitChange], None] = lambda _: None,
        looks: Looks | None = None,
        watchman: Watchman | None = None,
        page: CoachPage | None = None,
    ) -> None:
        """Wait for the first runner.

        Args:
            settings: The plan, caps and the staff's code.
            feed: Started.
            screen: Where pages and scenes go.
            speaker: Started; without a staff call of its own the screen alone calls.
            clock: The session's.
            book: Knows the runners.
            visits: Opens the sessions.
            log: Told of every change, for the bay's log.
            looks: Looks for a second person, started; None: nobody looks.
            watchman: Finds what is amiss with devices and machine; None: nobody looks.
            page: The staff's, on a phone; None: there is none.
        """
        self.visit = Visit()
        self.visits_done = 0
        self._settings = settings
        self._feed = feed
        self._screen = screen
        self._speaker = speaker
        self._clock = clock
        self._visits = visits
        self._log = log
        self._watchman = watchman
        self._page = page
        self._controls: Controls | None = None
        self._blind = BlindGuard()
        self._pages_shown = 0
        self._desk = Desk(settings, book)
        self._open: OpenVisit | None = None
        self._watch: SessionWatch | None = None
        self._view = InView(settings.runner_faces, looks)
        self._newest: Seen | None = None
        self._done_s: float | None = None
        self._summary: tuple[str, ...] = ()
        self._values: tuple[tuple[str, str], ...] = ()
        self._showing: Showing | None = None
        self._shown: tuple[Page, int | None] | None = None  # the page, and its frame's index
        self._shown_s = float("-inf")

    @property
    def session(self) -> Session | None:
        """The session that runs; None: none does."""
        return None if self._open is None else self._open.session

    @property
    def watch(self) -> SessionWatch | None:
        """Who watches the session; None: none runs."""
        return self._watch

    @property
    def shown(self) -> int:
        """How many pages and pictures have been shown."""
        return self._pages_shown + self._screen.scenes.drawn

    def run(
        self,
        stop: StopWish,
        seconds: float | None = None,
        each_turn: Callable[[float], None] = lambda _: None,
    ) -> str:
        """Lead visits until somebody stops the bay; return why it ended.

        Args:
            stop: Looked at between two turns.
            seconds: End after so much time; None: no bound.
            each_turn: Called at the end of each turn with the clock's time.

        Raises:
            Exception: Whatever a part raised; an open session has been closed and written.
        """
        try:
            while stop.reason is None:
                ended = self.turn(stop)
                if ended is not None:
                    return ended
                each_turn(self._clock.now_s())
                if seconds is not None and self._clock.now_s() >= seconds:
                    return TIME_IS_UP
            return stop.reason
        finally:
            self._call(False)
            self._close("bay stopped")

    def turn(self, stop: StopWish) -> str | None:
        """Do one turn: inputs, newest poses, time, screen; return why the source ended, if it did.

        Nothing is closed here.
        """
        for given in self._screen.inputs():
            if given.leave:
                stop.wish("window closed")
            self._obey(given)
        showing = self._showing
        try:
            seen = self._feed.next(WAIT_S if showing is None else showing.wait_s(WAIT_S))
        except EndOfStream:
            return END_OF_STREAM
        if seen is not None and showing is not None:
            showing.before_taking()
        while seen is not None:
            self._take(seen)
            seen = self._feed.waiting()
        now_s = self._clock.now_s()
        self._view.look_about(self.session, now_s)
        self._changed(self.visit.advance(now_s))
        self._tend(now_s)
        self._look_after(now_s)
        self._tell_page(now_s)
        self._draw(now_s)
        return None

    # --- what is done at the screen -------------------------------------------------------------

    def _obey(self, given: BayInput) -> None:
        if self.visit.state == "session":
            self._obey_runner(given)
            return
        told = self._desk.taken(given, self.visit, self._clock.now_s())
        if told is not None:
            self._tell(told)

    def _obey_runner(self, given: BayInput) -> None:
        """While somebody runs only what the session itself asks for can be answered by a key."""
        if self._open is None or given.face is None:
            return
        session = self._open.session
        progress = session.coaching.progress
        if given.face == "Enter":
            session.command(ConfirmBelt())
        elif given.face == "Space":
            session.command(Resume() if progress.paused else Pause())
        elif progress.state == "felt" and (given.face.isdigit() or given.face == "T"):
            session.command(AnswerFelt(10 if given.face == "T" else int(given.face)))

    # --- what is seen ---------------------------------------------------------------------------

    def _take(self, seen: Seen) -> None:
        self._newest = seen
        if self.visit.state in ("view_check", "session"):
            self._view.offer(seen)
        if self.visit.state == "view_check":
            if self._view.stands(seen):
                self._tell(ViewGood())
        elif self.visit.state == "session" and self._open is not None and self._watch is not None:
            session = self._open.session
            session.scenes.stills.frame(seen.frame)
            if session.take(seen.pose):
                self._feed.detect_anew()
            if self._showing is not None:
                self._showing.take(seen)
            if session.observation is not None and session.ended is None:
                for word in self._watch.take(session.observation, self._belt_may_run()):
                    self._heed(word)

    def _belt_may_run(self) -> bool:
        """Whether the belt moves as far as the station knows: it does, but where it is to stand."""
        if self._open is None:
            return False
        progress = self._open.session.coaching.progress
        if progress.state == "countdown":
            return True
        return progress.belt is not None

    def _heed(self, word: WatchWord) -> None:
        if self._open is None:
            return
        session, now_s = self._open.session, self._clock.now_s()
        if word == "come_forward":
            session.coaching.say("come_forward", now_s)
        elif word == "stop_belt":
            session.coaching.say("stop_feet_aside", now_s)
            session.command(Pause())
        elif word == "hand_up" and self._watch is not None:
            session.command(Pause() if self._watch.paused_by_hand else Resume())
        elif word == "look_anew":
            self._feed.detect_anew()
        elif word == "no_answer":
            session.command(EndSession())
        elif word == "call_staff":
            session.command(Pause())
            self._call(True)
            self._tell(CallStaff())

    def _tend(self, now_s: float) -> None:
        """Let the session's time go on, and end the visit's running when its plan is over."""
        if self.visit.state != "session" or self._open is None:
            return
        session = self._open.session
        session.idle()
        self._open.follow()
        if session.ended is None:
            return
        self._done_s = now_s if self._done_s is None else self._done_s
        if now_s - self._done_s >= DONE_SHOWN_S:
            self._tell(SessionOver(session.ended))

    def _look_after(self, now_s: float) -> None:
        """Have faults found; a session that is blind is paused, and ended where it stays so."""
        if self._watchman is None:
            return
        board = self._watchman.board
        session = self.session if self.visit.state == "session" else None
        board.note = None if session is None else session.coaching.progress.log.note
        disk_full = self._open is not None and self._open.disk_full
        known = () if session is None else session.faults()
        self._watchman.turn((*known, *((Fault("disk_full"),) if disk_full else ())))
        if session is None or session.ended is not None:
            return
        session.scenes.blind, session.misled = board.blind, board.misleading
        word = self._blind.look(board.blind is not None, now_s)
        if word == "pause":
            session.command(Pause())
        elif word == "resume":
            session.command(Resume())
        elif word == "end":
            session.command(EndSession())

    def _tell_page(self, now_s: float) -> None:
        """Let the staff's phones show what goes on, and ring while staff are called."""
        page = self._page
        if page is None:
            return
        page.call = page.calling if self.visit.state == "staff_call" else None
        session = self.session
        if session is None or self._controls is None:
            page.wait(now_s)
        else:
            page.turn(session, self._controls, now_s)

    # --- the visit's course ---------------------------------------------------------------------

    def _tell(self, message: VisitInput) -> None:
        self._changed(self.visit.take(message, self._clock.now_s()))

    def _changed(self, changes: tuple[VisitChange, ...]) -> None:
        for change in changes:
            self._log(change)
            if self._open is not None:
                self._open.note(change)
            if change.to == "view_check":
                self._view.begin()
            elif change.to == "session":
                self._begin()
            elif change.to in ("pain_after", "staff_call"):
                self._done_s = None
                if change.to == "pain_after":
                    self._end(change.why)
            elif change.to == "summary":
                self._call(False)
                self._close(change.why)
            elif change.to == "waiting":
                self.visits_done += self._desk.runner is not None
                self._close(change.why)
                self._desk.runner, self._summary = None, ()

    def _begin(self) -> None:
        plan, runner = self._desk.offer(self.visit.answers.may_rise), self._desk.runner
        if plan is None or runner is None:  # the page before would have said so
            self._tell(SessionOver("nothing offered"))
            return
        self._done_s = None
        self._watch = SessionWatch(self._settings.belt_rear_px)
        self._blind = BlindGuard()
        self._open = self._visits.open(plan, self.visit.answers, runner.caps)
        self._controls = Controls(self._open.session)
        self._showing = Showing(
            self._screen.scenes, self._open.session, self._clock, self._with_warning
        )

    def _end(self, why: str) -> None:
        """Silence the session; it is written when pain was asked for."""
        if self._open is not None and self._open.session.ended is None:
            self._open.session.command(EndSession())
        self._speaker.set_beat(None)

    def _close(self, why: str) -> None:
        if self._open is None:
            return
        self._end(why)
        self._open.close(why, self.visit.answers)
        self._summary, self._values = self._open.lines, self._open.values
        self._open, self._watch, self._showing = None, None, None

    def _call(self, on: bool) -> None:
        if isinstance(self._speaker, StaffCaller):
            self._speaker.call_staff(on)

    # --- what is shown --------------------------------------------------------------------------

    def _draw(self, now_s: float) -> None:
        if self.visit.state == "session" and self._showing is not None:
            self._shown = None
            self._showing.freshen(self._feed)
            self._showing.turn(self._notices)
            return
        page = self._desk.page(self.visit, now_s)
        frame = None
        if self.visit.state == "view_check":
            page = self._view.page(page)
            frame = None if self._newest is None else self._newest.frame
        elif self.visit.state == "summary":
            page = replace(page, lines=(*self._summary, *page.lines), values=self._values)
        page = self._with_faults(page)
        shown = page, None if frame is None else frame.index
        if shown == self._shown and now_s - self._shown_s < STALE_S:
            return
        self._screen.show_page(page, None if frame is None else frame.image)
        self._shown, self._shown_s = shown, now_s
        self._pages_shown += 1

    def _with_faults(self, page: Page) -> Page:
        """Let the pages on which nobody answers a question say what is amiss."""
        if self._page is not None and self._page.on and self.visit.state == "waiting":
            where = tuple(self._page.where.items())
            page = replace(page, lines=(*page.lines, "page_at"), values=(*page.values, *where))
        board = None if self._watchman is None else self._watchman.board
        if board is None or self.visit.state not in ("waiting", "view_check"):
            return page
        values = tuple(value for fault in board.faults for value in fault.values)
        return replace(page, lines=(*page.lines, *board.keys), values=(*page.values, *values))

    def _notices(self) -> tuple[str, ...]:
        sound = self._speaker.notice
        records = () if self._open is None else self._open.notices
        faults = () if self._watchman is None else self._watchman.board.lines
        if self._watchman is not None and "sound_gone" in self._watchman.board.keys:
            sound = None
        words = None if self._open is None else self._open.session.words
        left_out = dropped_notice(self._feed, words)
        page = () if self._page is None else self._page.notice
        return (*page, *faults, *(() if sound is None else (sound,)), *records, *left_out)

    def _with_warning(self, scene: Scene, _t_s: float) -> Scene:
        """Let what the watch has to say take the screen."""
        warning = None if self._watch is None else self._watch.warning
        if self._blind.paused:
            warning = SENTENCE
        if warning is None or scene.state == "done":
            return scene
        return replace(
            scene, state="trouble", heading="take_care", sentence=Sentence(warning, "warning")
        )
