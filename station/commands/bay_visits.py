"""Opens the sessions of unattended visits, and keeps them in files and records."""

from __future__ import annotations

import contextlib
import uuid
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from station.clock import Clock
from station.coach.feedback import FeedbackRule
from station.coach.plan import Plan
from station.coach.progress import SessionProgress
from station.coach.visit.course import VisitAnswers, VisitChange
from station.coach.visit.offer import Dose, RunnerCaps
from station.coach.visit.pain import PainAnswer
from station.coach.words import Words
from station.commands.records import heading, outcome, versions
from station.keep import SessionFile, StepsWriter, open_folder
from station.keep.session_file import RUNNING
from station.keep.store import Answer, Place, Records, Visit, VisitStart, begin_visit
from station.live import Coaching, Feed, Session
from station.live.bay.ports import KnownRunner
from station.measure import GaitMeter
from station.ports import Listener, SourceInfo, Speaker
from station.values import Bay, StepRecord

COUNTDOWN_S = 20.0
"""Time to step onto the side rails, start the belt and step on; the screen counts it down."""


class StoreBook:
    """The runners of the records, as the bay's loop asks for them."""

    def __init__(self, place: Place) -> None:
        """Keep the place; it is opened for each question and closed again."""
        self._place = place

    def find(self, code: str) -> KnownRunner | None:
        """Return a runner that a coach set up with a belt-speed cap; None: there is none.

        Raises:
            DeviceTrouble: The records cannot be asked.
        """
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

    def open(self, plan: Plan, answers: VisitAnswers) -> BayVisit:
        """Open a session; its files and its record begin now.

        Raises:
            BadInput: The folder cannot be used.
            DeviceTrouble: Neither records nor spool can be written.
        """
        return BayVisit(self._parts, plan, answers)


class BayVisit:
    """One visit's session with its files and its record."""

    def __init__(self, parts: BayParts, plan: Plan, answers: VisitAnswers) -> None:
        """Open everything."""
        self.lines: tuple[str, ...] = ()
        self._parts = parts
        self._plan = plan
        self._code = answers.code or ""
        self._began = datetime.now().astimezone()
        self._began_s = parts.clock.now_s()
        self._changes: list[dict[str, Any]] = []
        self._closed = False
        self._stack = contextlib.ExitStack()
        with contextlib.ExitStack() as opening:
            folder = open_folder(_free(parts.out / f"{self._began:%Y%m%d-%H%M%S}-{self._code}"))
            self._file = SessionFile(folder.session)
            steps = opening.enter_context(StepsWriter(folder.steps))
            zero = self._began - timedelta(seconds=self._began_s)
            self._record = begin_visit(
                parts.place,
                VisitStart(
                    uuid.uuid4().hex, self._code, parts.bay.name, plan.name, parts.kind, zero,
                    str(folder.path.absolute()), versions(),
                ),
            )  # fmt: skip
            opening.callback(self._record.leave)
            for notice in self._record.notices:
                parts.say(notice)
            self.session = self._make_session(plan, _Both(steps, self._record))
            self._stack = opening.pop_all()
        self._head = heading(
            parts.kind, parts.info, plan, parts.bay, self._code, self._began.replace(tzinfo=None),
            False, parts.speaker,
        )  # fmt: skip
        self._put_answers(answers)
        self._write(RUNNING, answers)

    def note(self, change: VisitChange) -> None:
        """Keep a change of the visit with its records."""
        told = {"t_s": change.t_s, "kind": "visit", "why": change.why, "to": change.to}
        self._changes.append(told)
        self._record.event(told)

    def close(self, why: str, answers: VisitAnswers) -> None:
        """End the session and write everything; safe to repeat."""
        if self._closed:
            return
        self._closed = True
        with self._stack:
            self.session.finish()
            if answers.pain_after is not None:
                self._record.answer(_answer("after", answers.pain_after))
            for event in self.session.events():
                self._record.event(event)
            for run, drill in enumerate(self.session.drills()):
                self._record.drill(run, drill)
            for baseline in self.session.coaching.baselines.all():
                self._record.baseline(baseline)
            self._write(why, answers)
            told = self._record.end(why)
            if told is not None:
                self._parts.say(told)

    # --- within ---------------------------------------------------------------------------------

    def _make_session(self, plan: Plan, sink: _Both) -> Session:
        parts, bay = self._parts, self._parts.bay
        meter = GaitMeter(bay.view, plan.drills[0].belt)
        runner = self._record.runner
        caps = [bay.belt_speed_limit_mps, None if runner is None else runner.belt_cap_mps]
        known = [cap for cap in caps if cap is not None]
        progress = SessionProgress(plan, COUNTDOWN_S, min(known, default=None))
        coaching = Coaching(
            progress,
            parts.speaker,
            meter.set_belt,
            self._record.known,
            FeedbackRule(least_gap_s=bay.cue_gap_s),
            attended=False,
        )
        listener = parts.source if isinstance(parts.source, Listener) else None
        return Session(
            meter, coaching, parts.speaker, parts.clock, sink, listener, words=parts.words
        )

    def _put_answers(self, answers: VisitAnswers) -> None:
        if answers.soreness is not None:
            self._record.answer(Answer("since", None, "calf or Achilles", (answers.soreness,)))
        if answers.pain_before is not None:
            self._record.answer(_answer("before", answers.pain_before))

    def _write(self, ended: str, answers: VisitAnswers) -> None:
        told = outcome(self.session, self._parts.feed, [], ended)
        told["visit"] = {
            "soreness": answers.soreness,
            "pain_before": _plain(answers.pain_before),
            "pain_after": _plain(answers.pain_after),
            "started_by_coach": answers.coach_started,
            "course": self._changes,
        }
        self._file.write({**self._head, **told})


class _Both:
    """Writes each step into the file and into the records."""

    def __init__(self, steps: StepsWriter, record: Visit) -> None:
        self._steps = steps
        self._record = record

    def write(self, record: StepRecord) -> None:
        self._steps.write(record)
        self._record.write(record)


def _answer(moment: Any, pain: PainAnswer) -> Answer:
    return Answer(moment, pain.score, pain.where or None, tuple(sorted(pain.kinds)))


def _plain(pain: PainAnswer | None) -> dict[str, Any] | None:
    if pain is None:
        return None
    return {"score": pain.score, "where": pain.where or None, "kinds": sorted(pain.kinds)}


def _free(stem: Path) -> Path:
    path, number = stem, 2
    while path.exists():
        path = stem.with_name(f"{stem.name}-{number}")
        number += 1
    return path
