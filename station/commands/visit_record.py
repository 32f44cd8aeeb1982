"""A session's visit in the records: begun, followed and ended beside the session's own files."""

from __future__ import annotations

import contextlib
import uuid
from collections.abc import Iterator, Mapping
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import TYPE_CHECKING, Any

from station.clock import Clock, WallClock
from station.coach.plan import Plan
from station.coach.verdict import Baseline
from station.commands.records import versions
from station.errors import StationError
from station.keep import Place, StepsWriter
from station.live import Session
from station.live.record import DrillRun
from station.values import Bay, StepRecord

if TYPE_CHECKING:
    from station.keep.store import Answer, Reception, Visit

_IN_TOLD = ("frames", "cues", "latency_s", "view", "notices")


class VisitRecord:
    """The step sink of a session: its table, and its visit where there is one.

    Used by the loop's thread.
    """

    def __init__(self, reception: Reception | None, runner: str | None) -> None:
        """Take the opened records.

        Args:
            reception: None: this session is not put on record.
            runner: The runner's code.
        """
        self.told: list[str] = []
        """What `session.json` should say of it."""
        self._reception = reception
        self._runner = runner
        self._visit: Visit | None = None
        self._writer: StepsWriter | None = None
        self._fault: BaseException | None = None
        self._drills = 0  # how many have been put
        self._over = 0  # how many of them have been put with their end
        self._events = 0

    def known_in(self, bay: str) -> tuple[Baseline, ...]:
        """Return the runner's baselines of earlier visits in a bay of this name."""
        runner = None if self._reception is None else self._reception.runner
        return () if runner is None else runner.baselines_in(bay)

    @property
    def notices(self) -> tuple[str, ...]:
        """What the screen should say now."""
        now = [one.notice for one in (self._writer, self._visit) if one is not None]
        found = tuple(notice for notice in now if notice is not None)
        for notice in found:
            self._keep(notice)
        return found

    @property
    def disk_full(self) -> bool:
        """Whether steps wait in memory, since no disk takes them."""
        writer = self._writer is not None and self._writer.notice is not None
        return writer or (self._visit is not None and self._visit.disk_fault)

    def begin(
        self, kind: str, plan: Plan, bay: Bay, folder: Path, writer: StepsWriter, clock: Clock
    ) -> None:
        """Begin the visit; its second 0 is the clock's.

        Args:
            kind: Of the source.
            plan: The plan.
            bay: The bay.
            folder: The session's.
            writer: Writes `steps.csv`.
            clock: The session's.
        """
        self._writer = writer
        if self._reception is None or self._runner is None:
            return
        from station.keep.store import VisitStart

        now = datetime.now(timezone.utc)
        began = now - timedelta(seconds=clock.now_s()) if isinstance(clock, WallClock) else now
        self._visit = self._reception.begin(
            VisitStart(
                uuid.uuid4().hex, self._runner, bay.name, plan.name, kind, began,
                str(folder.absolute()), versions(),
            )
        )  # fmt: skip
        self.told += self._visit.notices

    def write(self, record: StepRecord) -> None:
        """Take a step."""
        if self._writer is not None:
            self._writer.write(record)
        if self._visit is not None:
            self._visit.write(record)

    def answer(self, answer: Answer) -> None:
        """Put what the runner said of pain or soreness."""
        if self._visit is not None:
            self._visit.answer(answer)

    def event(self, told: Mapping[str, Any]) -> None:
        """Put something that happened beside the session's own events."""
        if self._visit is not None:
            self._visit.event(told)

    def follow(self, session: Session) -> None:
        """Put the drills that began or ended and what happened since; called each turn."""
        if self._visit is None:
            return
        runs = session.coaching.runs
        while self._drills < len(runs):
            self._visit.drill(self._drills, _drill(runs[self._drills]))
            self._drills += 1
        while self._over < len(runs) and runs[self._over].ended_s is not None:
            self._visit.drill(self._over, _drill(runs[self._over]))
            self._over += 1
        for event in session.coaching.progress.log.since(self._events):
            self._visit.event(event.as_dict())
            self._events += 1

    def end(self, session: Session, told: Mapping[str, Any], why: str) -> bool:
        """End the visit; bounded in time, safe to repeat.

        Args:
            session: Finished.
            told: As in `session.json`.
            why: Why it ended.

        Returns:
            Whether there is something new to tell.
        """
        visit = self._visit
        if visit is None:
            return False
        before = len(self.told)
        self.follow(session)
        runs = session.coaching.runs
        for run, (one, drill) in enumerate(zip(runs, told["drills"], strict=True)):
            visit.drill(run, _with_incline(one, drill))
        for baseline in session.coaching.baselines.all():
            visit.baseline(baseline)
        try:
            said = visit.end(why, {key: told[key] for key in _IN_TOLD if key in told})
        except Exception as fault:
            self._fault = fault
            said = "records: a fault of the station's own; steps.csv has all steps"
        if said is not None:
            self._keep(said)
        return len(self.told) > before

    def leave(self) -> None:
        """Let go of a visit that was not ended."""
        if self._visit is not None:
            self._visit.leave()

    def raise_fault(self) -> None:
        """Raise what ended the writer before its time, once all else is done."""
        if self._fault is not None:
            raise self._fault

    def _keep(self, notice: str) -> None:
        if notice not in self.told:
            self.told.append(notice)


@contextlib.contextmanager
def open_record(place: Place | None, runner: str | None) -> Iterator[VisitRecord]:
    """Open the records for one session, before its clock starts.

    Args:
        place: Where they are; None: the session is not put on record.
        runner: The runner's code.

    Raises:
        BadInput: Their address is none, or they are of a newer station.
        DeviceTrouble: Neither database nor spool can be written, or the database is damaged.
    """
    if place is None or runner is None:
        yield VisitRecord(None, None)
        return
    from station.keep.store import Reception  # a database layer takes a while to import

    record = VisitRecord(Reception(place, runner), runner)
    try:
        yield record
    finally:
        with contextlib.suppress(StationError):
            record.leave()


def _drill(run: DrillRun) -> dict[str, Any]:
    return _with_incline(run, run.as_dict())


def _with_incline(run: DrillRun, told: Mapping[str, Any]) -> dict[str, Any]:
    belt = run.drill.belt
    return {**told, "incline_percent": None if belt is None else belt.incline_percent}
