"""What a runner's visits came to, one after the other, as values."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from statistics import median

from station.coach.baseline import same_belt
from station.coach.practice import (
    SIDES,
    BeltPractice,
    PhaseLeg,
    kept_its_belt,
    practice_by_belt,
    under_limit,
)
from station.coach.share_change import Share, share_of
from station.coach.verdict import LandingLimit
from station.keep.report.facts import AnswerFacts, DrillFacts, SessionFacts
from station.measure.summaries import LEAST_STEPS
from station.values import Belt, Side, StepRecord

MOST_VISITS = 60
"""The newest that a progress report takes: half a year of two visits a week."""
MOST_SETTINGS = 3
"""Belt settings that are followed, those with the most visits first."""


@dataclass(frozen=True, slots=True)
class ChannelShares:
    """How much of a visit's practice each channel was on, 0 to 1, weighted by time."""

    beat: float
    guides: float
    view: float
    cue: float
    """Of the landings ahead, the share that the schedules cue."""


@dataclass(frozen=True, slots=True, eq=False)
class VisitFigures:
    """One visit."""

    began: datetime
    bay: str
    plan: str
    state: str
    steps: int
    running_s: float
    """In drills, rests left out."""
    coached_s: float
    """Of it, in drills with a beat or a cue."""
    cues: int
    channels: ChannelShares | None
    """None: on record for none of its drills."""
    coached: bool
    """Some drill had a beat or a cue."""
    all_off: bool
    """No drill gave anything back: no beat, guides, picture or cue."""
    practice: tuple[BeltPractice, ...]
    alone: tuple[tuple[Belt, tuple[StepRecord, ...]], ...]
    """By belt setting, the steps of the drill left alone before any coached one there: how the
    runner came."""
    far_sides: tuple[Side, ...]
    answers: tuple[AnswerFacts, ...]

    def at(self, belt: Belt) -> BeltPractice | None:
        """Return what was run at a belt setting."""
        return next((one for one in self.practice if same_belt(one.belt, belt)), None)

    def alone_at(self, belt: Belt) -> tuple[StepRecord, ...]:
        """Return the steps made there before anything was said; empty: none."""
        return next((rows for one, rows in self.alone if same_belt(one, belt)), ())


@dataclass(frozen=True, slots=True, eq=False)
class Point:
    """One visit at one belt setting, one leg."""

    number: int
    """Of the visit, from 1."""
    visit: VisitFigures
    alone: PhaseLeg | None
    """Without beat and cue, before any coached drill there in this visit."""
    coached: PhaseLeg | None
    after: PhaseLeg | None
    under: Share | None
    """Of `alone`: judged landings at or under the setting's one limit."""


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """One leg at one belt setting over the visits."""

    belt: Belt
    side: Side
    limit: LandingLimit | None
    """Of the last coached visit there: shares of all visits are counted by it."""
    points: tuple[Point, ...]
    """Of the visits in which this setting was run."""

    @property
    def probes(self) -> tuple[Point, ...]:
        """The visits that tell how the runner lands when left alone, by enough steps."""
        return tuple(p for p in self.points if p.alone and p.alone.median_deg is not None)

    @property
    def near(self) -> bool:
        """It was the near leg in every visit."""
        return bool(self._legs) and all(leg.near for leg in self._legs)

    @property
    def far(self) -> bool:
        """It was the far leg in every visit."""
        return bool(self._legs) and not any(leg.near for leg in self._legs)

    @property
    def _legs(self) -> list[PhaseLeg]:
        return [leg for p in self.points for leg in (p.alone, p.coached, p.after) if leg]


@dataclass(frozen=True, slots=True, eq=False)
class Progress:
    """A runner's visits, in order of time."""

    code: str
    visits: tuple[VisitFigures, ...]
    older: int
    """Earlier visits that fit, and are left out."""
    settings: tuple[Belt, ...]
    """Those followed."""
    other_settings: tuple[Belt, ...]

    def course(self, belt: Belt, side: Side) -> Course:
        """Follow one leg at one belt setting."""
        found = [(i, v, v.at(belt)) for i, v in enumerate(self.visits, start=1)]
        here = [(i, v, at) for i, v, at in found if at is not None]
        limit = None
        for _, _, at in here:
            leg = at.left if side == "left" else at.right
            if leg.coached is not None and leg.limit is not None:
                limit = leg.limit
        points = []
        for number, visit, at in here:
            leg = at.left if side == "left" else at.right
            rows = [row for row in visit.alone_at(belt) if row.step.side == side]
            under = None if limit is None else share_of(under_limit(rows, limit.deg))
            if leg.before or leg.coached or leg.after:
                points.append(Point(number, visit, leg.before, leg.coached, leg.after, under))
        return Course(belt, side, limit, tuple(points))

    def own_rate(self, belt: Belt) -> list[tuple[VisitFigures, float, int]]:
        """Return the visits' own step rates when left alone, with the steps they are of."""
        found = []
        for visit in self.visits:
            rates = [r for row in visit.alone_at(belt) if (r := row.step.step_rate_spm) is not None]
            if len(rates) >= LEAST_STEPS:
                found.append((visit, float(median(rates)), len(rates)))
        return found

    @property
    def running_s(self) -> float:
        """Of running in drills, all visits together."""
        return sum(visit.running_s for visit in self.visits)

    @property
    def coached_s(self) -> float:
        """Of it, with a beat or a cue."""
        return sum(visit.coached_s for visit in self.visits)

    @property
    def steps(self) -> int:
        """Of all visits."""
        return sum(visit.steps for visit in self.visits)


def progress_of(code: str, sessions: Iterable[SessionFacts], older: int = 0) -> Progress:
    """Sum visits up, one at a time.

    Args:
        code: The runner's.
        sessions: In order of time.
        older: How many earlier ones are left out.
    """
    visits = tuple(visit_figures(one) for one in sessions if one.began is not None)
    followed, others = _settings(visits)
    return Progress(code, visits, older, followed, others)


def visit_figures(facts: SessionFacts) -> VisitFigures:
    """Sum one visit up; of its steps only those made when left alone are kept."""
    assert facts.began is not None
    running = facts.running
    rows = [row for drill in facts.drills for row in drill.records] + list(facts.loose)
    known = [drill for drill in running if drill.channels is not None]
    return VisitFigures(
        began=facts.began,
        bay=facts.bay,
        plan=facts.plan,
        state=facts.state,
        steps=facts.steps,
        running_s=facts.running_s,
        coached_s=sum(drill.seconds for drill in running if drill.coached),
        cues=sum(row.cued for row in rows),
        channels=channel_shares(running),
        coached=any(drill.coached for drill in running),
        all_off=bool(known) and len(known) == len(running) and all(d.all_off for d in known),
        practice=practice_by_belt(drill.practice() for drill in facts.drills),
        alone=_alone(running),
        far_sides=tuple(
            s for s in SIDES if any(r.step.side == s and not r.step.near for r in rows)
        ),
        answers=facts.answers,
    )


def channel_shares(drills: Sequence[DrillFacts]) -> ChannelShares | None:
    """Return how much of the practice each channel was on.

    Practice is every drill but what was left alone before the first coached one (settling, the
    baseline); where none was coached it is all of them.

    Args:
        drills: Of a visit, rests left out.
    """
    practice = list(drills)
    if any(drill.coached for drill in practice):
        while practice[0].left_alone:
            practice.pop(0)
    known = [(d.channels, d.seconds) for d in practice if d.channels is not None and d.seconds > 0]
    total_s = sum(seconds for _, seconds in known)
    if total_s <= 0.0:
        return None
    beat, guides, view, cue = (
        sum(share * seconds for share, seconds in zip(shares, [s for _, s in known], strict=True))
        / total_s
        for shares in zip(
            *((float(c.beat), float(c.guides), float(c.view), c.cue_share) for c, _ in known),
            strict=True,
        )
    )
    return ChannelShares(beat, guides, view, cue)


def _alone(drills: Sequence[DrillFacts]) -> tuple[tuple[Belt, tuple[StepRecord, ...]], ...]:
    """Return by belt setting the steps of the last drill left alone before a coached one there."""
    found: list[tuple[Belt, list[tuple[StepRecord, ...]], list[bool]]] = []
    for drill in drills:
        belt = drill.belt
        if belt is None or not (drill.left_alone or drill.coached) or not drill.records:
            continue
        if not kept_its_belt(drill.records):
            continue
        entry = next((one for one in found if same_belt(one[0], belt)), None)
        if entry is None:
            entry = (belt, [], [])
            found.append(entry)
        if drill.coached:
            entry[2].append(True)
        elif not entry[2]:
            entry[1][:] = [drill.records]
    return tuple((belt, rows[0]) for belt, rows, _ in found if rows)


def _settings(visits: Sequence[VisitFigures]) -> tuple[tuple[Belt, ...], tuple[Belt, ...]]:
    """Return the belt settings to follow, and the others.

    Followed are those of two visits or more, the most visits first, each visit counted twice where
    it was coached there; where there is no such setting, the one of most visits.
    """
    counts: list[tuple[Belt, list[int]]] = []
    for visit in visits:
        for one in visit.practice:
            entry = next((n for belt, n in counts if same_belt(belt, one.belt)), None)
            if entry is None:
                entry = [0, 0]
                counts.append((one.belt, entry))
            entry[0] += 1
            entry[1] += any(leg.coached is not None for leg in one.legs)
    counts.sort(key=lambda one: -sum(one[1]))
    ordered = [belt for belt, _ in counts]
    most = max(1, min(MOST_SETTINGS, sum(n >= 2 for _, (n, _) in counts)))
    followed = sorted(ordered, key=lambda b: next(c[0] < 2 for o, c in counts if o == b))[:most]
    return tuple(followed), tuple(belt for belt in ordered if belt not in followed)
