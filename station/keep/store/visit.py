"""One visit as the live loop sees it: everything is put, nothing waits."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timezone
from typing import TYPE_CHECKING, Any

from station.keep.session_file import plain
from station.keep.step_columns import plain_step
from station.keep.store.facts import Answer, Operation, Runner, VisitStart
from station.keep.store.tables import drills
from station.keep.store.writer import VisitWriter, as_put

if TYPE_CHECKING:
    from station.coach.verdict import Baseline
    from station.values import StepRecord

CLOSE_S = 5.0
_DRILL_COLUMNS = tuple(
    c.name for c in drills.columns if c.name not in ("visit", "run", "told", "felt", "feel_gap")
)


class Visit:
    """Keeps a visit. Used by the loop's thread alone."""

    def __init__(
        self, start: VisitStart, writer: VisitWriter, runner: Runner | None,
        notices: tuple[str, ...] = (),
    ) -> None:  # fmt: skip
        """Take the parts.

        Args:
            start: What is known.
            writer: Started.
            runner: What is kept of the runner; None: the database could not be asked.
            notices: What opening the records had to say.
        """
        self.start = start
        self.runner = runner
        self.notices = notices
        self._writer = writer
        self._rows = {"step": 0, "event": 0, "answer": 0}
        self._ended = False

    @property
    def known(self) -> tuple[Baseline, ...]:
        """The runner's baselines of earlier visits in this bay; none where nobody can be asked."""
        return () if self.runner is None else self.runner.baselines_in(self.start.bay)

    @property
    def notice(self) -> str | None:
        """What the screen should say now; None: all is well."""
        return self._writer.notice

    @property
    def disk_fault(self) -> bool:
        """Whether the disk takes nothing now."""
        return self._writer.backlog.disk_fault is not None

    @property
    def lost(self) -> int:
        """What was put and will never be in the database."""
        return self._writer.lost

    def write(self, record: StepRecord) -> None:
        """Put a step."""
        row = self._next("step")
        self._writer.put(
            lambda: {"do": "step", "visit": self.start.uid, "row": row} | plain_step(record)
        )

    def drill(self, run: int, told: Mapping[str, Any]) -> None:
        """Put a drill, or what it has come to since it was put before.

        Args:
            run: Counts the drills as they were run, from 0.
            told: As in `session.json`.
        """
        values = plain(told)
        felt = values.get("felt")
        felt = felt if isinstance(felt, Mapping) else {}
        good_of_ten = _number(felt, "good_of_ten")
        self._put({
            "do": "drill", "visit": self.start.uid, "run": run,
            **{name: values.get(name) for name in _DRILL_COLUMNS},
            "name": values.get("name") or "",
            "felt": None if good_of_ten is None else good_of_ten / 10.0,
            "feel_gap": _number(felt, "gap"),
            "told": values,
        })  # fmt: skip

    def event(self, told: Mapping[str, Any]) -> None:
        """Put an event: `t_s`, `kind`, `why` and whatever values it has."""
        values = plain(told)
        rest = {k: v for k, v in values.items() if k not in ("t_s", "kind", "why")}
        self._put({
            "do": "event", "visit": self.start.uid, "row": self._next("event"),
            "t_s": values.get("t_s") or 0.0, "kind": str(values.get("kind")),
            "why": values.get("why"), "details": rest or None,
        })  # fmt: skip

    def answer(self, answer: Answer) -> None:
        """Put what the runner answered about pain or soreness."""
        self._put({
            "do": "answer", "visit": self.start.uid, "row": self._next("answer"),
            "t_s": answer.t_s, "moment": answer.moment, "score": answer.score,
            "place": answer.place, "kinds": list(answer.kinds) or None,
        })  # fmt: skip

    def baseline(self, baseline: Baseline) -> None:
        """Put a baseline that this visit gave; the same belt setting again replaces it."""
        self._put(
            {"do": "baseline", "visit": self.start.uid}
            | plain(
                {
                    "belt_mps": baseline.belt.speed_mps,
                    "incline_percent": baseline.belt.incline_percent,
                    "step_rate_spm": baseline.step_rate_spm,
                    **{
                        f"{side}_{name}": None if leg is None else getattr(leg, name)
                        for side, leg in (("left", baseline.left), ("right", baseline.right))
                        for name in ("count", "median_deg", "spread_deg", "contact_s")
                    },
                }
            )
        )

    def end(self, why: str, told: Mapping[str, Any] | None = None) -> str | None:
        """End the visit and write what is left; bounded in time, safe to repeat.

        Args:
            why: As in `session.json`.
            told: The session's other aggregates.

        Returns:
            What the user should know; None: everything is in the database.

        Raises:
            BaseException: What ended one of the writer's threads before its time.
        """
        if self._ended:
            return None
        self._ended = True
        self._put({
            "do": "end", "visit": self.start.uid, "why": why,
            "ended": datetime.now(timezone.utc).isoformat(), "steps_lost": self._writer.lost,
            "told": None if told is None else plain(told),
        })  # fmt: skip
        return self._close()

    def leave(self) -> None:
        """Let go without an end: the next opening marks the visit as broken off."""
        if not self._ended:
            self._ended = True
            self._close(ended=False)

    def _close(self, ended: bool = True) -> str | None:
        gone = self._writer.close(CLOSE_S, ended)
        if self._writer.fault is not None:
            raise self._writer.fault
        lost = gone + self._writer.lost
        if lost:
            return f"{lost} entries of this visit are not in the records: no disk took them"
        if self._writer.trouble is not None or len(self._writer.backlog):
            return "the visit waits in the spool file: it goes into the records when they open next"
        return None

    def _put(self, operation: Operation) -> None:
        self._writer.put(as_put(operation))

    def _next(self, kind: str) -> int:
        row = self._rows[kind]
        self._rows[kind] = row + 1
        return row


def begin_operation(start: VisitStart, station: str) -> Operation:
    """Return a visit's first operation."""
    return {
        "do": "visit", "visit": start.uid, "runner": start.runner, "bay": start.bay,
        "plan": start.plan, "source": start.source, "station": station, "folder": start.folder,
        "began": start.began.astimezone(timezone.utc).isoformat(),
        "versions": dict(start.versions),
    }  # fmt: skip


def _number(values: Mapping[str, Any], name: str) -> float | None:
    value = values.get(name)
    return float(value) if isinstance(value, (int, float)) else None
