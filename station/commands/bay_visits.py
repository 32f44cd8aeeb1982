"""Opens the sessions of unattended visits, and keeps them in files and records."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from station.clock import Clock
from station.coach.closing import closing
from station.coach.plan import Plan
from station.coach.progress import SessionProgress
from station.coach.visit.course import VisitAnswers, VisitChange
from station.coach.visit.offer import Dose, RunnerCaps
from station.coach.visit.pain import PainAnswer
from station.coach.words import Words
from station.commands.options import free_folder
from station.commands.records import heading, outcome
from station.commands.rules import feedback_rule
from station.commands.visit_record import VisitRecord, open_record
from station.errors import StationError
from station.keep import Place, SessionFile, StepsWriter, open_folder
from station.keep.session_file import RUNNING
from station.keep.store import Answer, Records
from station.live import Coaching, Feed, Session
from station.live.bay.ports import KnownRunner
from station.measure import GaitMeter
from station.ports import Listener, SourceInfo, Speaker
from station.values import Bay

COUNTDOWN_S = 20.0
"""Time to step onto the side rails, start the belt and step on; the screen counts it down."""


class StoreBook:
    """The runners of the records, as the bay's loop asks for them."""

    def __init__(self, place: Place, say: Callable[[str], None]) -> None:
        """Keep the place; it is opened for each question and closed again.

        Args:
            place: Of the records.
            say: Told where they cannot be asked.
        """
        self._place = place
        self._say = say

    def find(self, code: str) -> KnownRunner | None:
        """Return a runner that a coach set up with a belt-speed cap; None: there is none.

        Records that cannot be asked know nobody: without caps nothing can be offered alone.
        """
        try:
            return self._found(code)
        except StationError as fault:
            self._say(str(fault))
            return None

    def _found(self, code: str) -> KnownRunner | None:
        with Records(self._place) as records:
            runner = records.runner(code)
            if runner is None or runner.belt_cap_mps is None:
                return None
            caps = RunnerCaps(runner.belt_cap_mps, runner.hops_cap or 0)
            dose = records.last_dose(code)
        return KnownRunner(caps, None if dose is None else Dose(*dose))


@dataclass(frozen=True)
class BayParts:
    """What every visit of a bay shares."""

    bay: Bay
    place: Place
    words: Words
    feed: Feed
    speaker: Speaker
    clock: Clock
    info: SourceInfo
    kind: str
    source: object
    out: Path
    say: Callable[[str], None]
    """Told of what staff should know, one line each."""


class BayVisits:
    """Opens one visit's session after the other."""

    def __init__(self, parts: BayParts) -> None:
        """Keep the shared parts."""
        self._parts = parts

    def open(self, plan: Plan, answers: VisitAnswers, caps: RunnerCaps) -> BayVisit:
        """Open a session; its files and its record begin now.

        Raises:
            BadInput: The folder cannot be used.
            DeviceTrouble: Neither records nor spool can be written.
        """
        return BayVisit(self._parts, plan, answers, caps)


class BayVisit:
    """One visit's session with its files and its record. Used by the loop's thread."""

    def __init__(
        self, parts: BayParts, plan: Plan, answers: VisitAnswers, caps: RunnerCaps
    ) -> None:
        """Open everything.

        Args:
            parts: What every visit shares; feed and speaker started.
            plan: What is offered.
            answers: What the runner has said so far.
            caps: The runner's own.

        Raises:
            BadInput: The folder cannot be used.
            DeviceTrouble: Neither records nor spool can be written.
        """
        self.lines: tuple[str, ...] = ()
        self.values: tuple[tuple[str, str], ...] = ()
        self._parts = parts
        self._caps = caps
        self._code = answers.code or ""
        self._began = datetime.now().astimezone()
        self._changes: list[dict[str, Any]] = []
        self._closed = False
        self._said: set[str] = set()
        self._stack = contextlib.ExitStack()
        with contextlib.ExitStack() as opening:
            folder = open_folder(
                free_folder(parts.out / f"{self._began:%Y%m%d-%H%M%S}-{self._code}")
            )
            self._file = SessionFile(folder.session)
            steps = opening.enter_context(StepsWriter(folder.steps))
            record = opening.enter_context(open_record(parts.place, self._code))
            record.begin(parts.kind, plan, parts.bay, folder.path, steps, parts.clock)
            self._record = record
            self.session = self._make_session(plan, record)
            self._stack = opening.pop_all()
        self._head = heading(
            parts.kind, parts.info, plan, parts.bay, self._code, self._began,
            False, parts.speaker,
        )  # fmt: skip
        self._put_answers(answers)
        self._write(RUNNING, answers)

    def note(self, change: VisitChange) -> None:
        """Keep a change of the visit with its records."""
        told = {"t_s": change.t_s, "kind": "visit", "why": change.why, "to": change.to}
        self._changes.append(told)
        self._record.event(told)

    def follow(self) -> None:
        """Put what has happened since into the records; called each turn."""
        if not self._closed:
            self._record.follow(self.session)

    @property
    def notices(self) -> tuple[str, ...]:
        """What the screen should say of the records now."""
        found = self._record.notices
        for line in found:
            if line not in self._said:
                self._said.add(line)
                self._parts.say(line)
        return found

    @property
    def disk_full(self) -> bool:
        """Whether steps wait in memory, since no disk takes them."""
        return self._record.disk_full

    def close(self, why: str, answers: VisitAnswers) -> None:
        """End the session and write everything; safe to repeat."""
        if self._closed:
            return
        self._closed = True
        with self._stack:
            self.session.finish()
            if answers.pain_after is not None:
                self._record.answer(_answer("after", answers.pain_after))
            told = self._write(why, answers)
            self._sum_up()
            self._record.end(self.session, told, why)
            for line in self._record.told:
                self._parts.say(line)
            self._record.raise_fault()

    # --- within ---------------------------------------------------------------------------------

    def _make_session(self, plan: Plan, record: VisitRecord) -> Session:
        parts, bay = self._parts, self._parts.bay
        meter = GaitMeter(bay.view, plan.drills[0].belt)
        progress = SessionProgress(
            plan, COUNTDOWN_S, bay.belt_speed_limit_mps, self._caps.belt_speed_mps,
            min(bay.hops_limit, self._caps.hops),
        )  # fmt: skip
        coaching = Coaching(
            progress,
            parts.speaker,
            meter.set_belt,
            record.known_in(bay.name),
            feedback_rule(bay),
            attended=False,
            far_leg_error_deg=bay.far_leg_error_deg,
            words=parts.words,
        )
        listener = parts.source if isinstance(parts.source, Listener) else None
        return Session(
            meter,
            coaching,
            parts.speaker,
            parts.clock,
            record,
            listener,
            words=parts.words,
            belt_line_told=bay.view.belt_line is not None,
        )

    def _sum_up(self) -> None:
        """Keep what the runner is told at the end: no more than was measured."""
        runs = self.session.coaching.runs
        told = closing([run.practice() for run in runs], sum(len(run.records) for run in runs))
        self.lines, self.values = told.lines, told.values

    def _put_answers(self, answers: VisitAnswers) -> None:
        if answers.soreness is not None:
            self._record.answer(Answer("since", None, "calf or Achilles", (answers.soreness,)))
        if answers.pain_before is not None:
            self._record.answer(_answer("before", answers.pain_before))

    def _write(self, ended: str, answers: VisitAnswers) -> dict[str, Any]:
        told = outcome(self.session, self._parts.feed, [], ended)
        told["visit"] = {
            "soreness": answers.soreness,
            "pain_before": _plain(answers.pain_before),
            "pain_after": _plain(answers.pain_after),
            "started_by_coach": answers.coach_started,
            "course": self._changes,
        }
        told = {**self._head, **told}
        self._file.write(told)
        return told


def _answer(moment: Any, pain: PainAnswer) -> Answer:
    return Answer(moment, pain.score, pain.where or None, tuple(sorted(pain.kinds)))


def _plain(pain: PainAnswer | None) -> dict[str, Any] | None:
    if pain is None:
        return None
    return {"score": pain.score, "where": pain.where or None, "kinds": sorted(pain.kinds)}
