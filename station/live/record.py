"""Joins each final step with what the session made of its landing, drill by drill."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from station.coach.course import DrillEnd
from station.coach.feel_gap import FeelGap
from station.coach.hop_count import HopCounter
from station.coach.mastery import Mastery
from station.coach.plan import Drill
from station.coach.plan_dose import cue_share
from station.coach.practice import PracticeRun
from station.coach.summary import DrillSummary, summarise_drill
from station.coach.verdict import LandingLimits, border_deg
from station.live.beats import BeatLog
from station.live.shelf import StepRows
from station.values import Belt, Landing, Side, Step, StepRecord, Verdict

LANDINGS_WAITING = 64
"""Landings whose step has not come yet; a step follows within a stance, so the oldest are lost."""


@dataclass(slots=True)
class DrillRun:
    """One drill as it was run; a drill run again is another one."""

    number: int
    drill: Drill
    began_s: float
    limits: LandingLimits
    ended_s: float | None = None
    why: DrillEnd | None = None
    target_spm: float | None = None
    beat_spm: float | None = None
    """The last beat that was set in it; None: none was."""
    belt_mps: float | None = None
    belt_confirmed: str | None = None
    """By what the belt of this drill was confirmed last (`measured`, `key`, `nobody`); None: no
    other setting was asked for, or not waited for."""
    limit_by_deg: float = 0.0
    """What the coach added to its limits."""
    mastery: Mastery | None = None
    hops: HopCounter | None = None
    felt: FeelGap | None = None
    """How many of ten landings the runner said were good, and the truth; None: not asked."""
    records: list[StepRecord] | StepRows = field(default_factory=list)

    def summary(self) -> DrillSummary:
        """Sum its steps up."""
        period_s = None if not self.beat_spm else 60.0 / self.beat_spm
        return summarise_drill(self.drill.name, self.records, period_s)

    def as_dict(self) -> dict[str, Any]:
        """Return it as plain values, for the session's file."""
        sides: tuple[Side, Side] = ("left", "right")
        limits = {
            side: {"deg": self.limits.of(side).deg, "origin": self.limits.of(side).origin}
            for side in sides
        }
        return {
            "number": self.number,
            "kind": self.drill.kind,
            "began_s": self.began_s,
            "ended_s": self.ended_s,
            "why": self.why,
            "belt_speed_mps": self.belt_mps,
            "incline_percent": None if self.belt_mps is None else self.drill.incline_percent,
            "channels": self._channels(),
            "withhold_share": self.drill.withhold,
            "target_spm": self.target_spm,
            "beat_spm": self.beat_spm,
            "belt_confirmed": self.belt_confirmed,
            "limits": limits if self.drill.judges or self.drill.kind == "rest" else None,
            "limit_by_deg": self.limit_by_deg,
            "mastery": self._mastery(),
            "hops": self._hops(),
            "felt": None if self.felt is None else self.felt.as_dict(),
            **self.summary().as_dict(),
        }

    def practice(self) -> PracticeRun:
        """Return it as what was practised."""
        drill = self.drill
        belt = None if self.belt_mps is None else Belt(self.belt_mps, drill.incline_percent)
        coached = drill.kind == "run" and (drill.beat or drill.feedback != "off")
        return PracticeRun(
            drill.name, belt, drill.gives_baseline, coached, self.limits, self.records,
            self.target_spm,
        )  # fmt: skip

    def _channels(self) -> dict[str, Any]:
        """Return what the drill gave back to the runner, and by which ways."""
        drill = self.drill
        return {
            "beat": drill.beat,
            "guides": drill.guides,
            "view": drill.view,
            "cue": drill.feedback,
            "cue_share": cue_share(drill),
        }

    def _mastery(self) -> dict[str, Any] | None:
        """Return what came of its gate; None: it has none."""
        gate = self.drill.advance
        if gate is None or self.mastery is None:
            return None
        return {
            "share": gate.share,
            "seconds": gate.seconds,
            "met": self.why == "mastered",
            "proofs_failed": self.mastery.proofs_failed,
        }

    def _hops(self) -> dict[str, Any] | None:
        """Return how its hops were counted; None: it is no hop drill by rounds."""
        hops = self.hops
        if hops is None:
            return None
        return {
            "asked": self.drill.hop_count,
            "counted": hops.counted,
            "not_seen": hops.not_seen,
            "wrong_foot": hops.wrong_foot,
            "two_at_once": hops.doubled,
        }


@dataclass(frozen=True, slots=True)
class Judged:
    """One landing with what was made of it at once."""

    landing: Landing
    verdict: Verdict | None
    limit_deg: float | None
    run: DrillRun | None
    """None: it fell into no drill (the countdown, a pause, after the end)."""
    t_cue_s: float | None
    withheld: bool = False
    """Its cue was due, and left out by the draw that the drill asks for."""

    @property
    def border_deg(self) -> float | None:
        """Beyond which shank angle this landing is ahead; None: there was no limit."""
        return None if self.limit_deg is None else border_deg(self.landing, self.limit_deg)


class Recorder:
    """Makes a record of each step and hands it on. Used by one thread."""

    def __init__(self, write: Callable[[StepRecord], None], beats: BeatLog) -> None:
        """Begin with nothing.

        Args:
            write: Takes each record as soon as it is final.
            beats: Tells each step's offset.
        """
        self.steps = 0
        self._write = write
        self._beats = beats
        self._waiting: dict[int, Judged] = {}

    def landing(self, judged: Judged) -> None:
        """Keep a landing until its step comes."""
        self._waiting[judged.landing.number] = judged
        while len(self._waiting) > LANDINGS_WAITING:
            del self._waiting[next(iter(self._waiting))]

    def step(self, step: Step) -> StepRecord:
        """Record a final step."""
        judged = self._waiting.pop(step.number, None)
        run = None if judged is None else judged.run
        near = self._beats.nearest(step.t_contact_s)
        record = StepRecord(
            step=step,
            drill="" if run is None else run.drill.name,
            landing=None if judged is None else judged.verdict,
            cued=judged is not None and judged.t_cue_s is not None,
            t_cue_s=None if judged is None else judged.t_cue_s,
            beat_offset_s=None if near is None else near.offset_s,
            beat_period_s=None if near is None else near.period_s,
            withheld=judged is not None and judged.withheld,
        )
        self.steps += 1
        self._write(record)
        if run is not None:
            run.records.append(record)
        return record
