"""Sessions to report on: plans run by a runner of bare landings, kept in a folder or on record."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from datetime import datetime, timezone
from pathlib import Path
from typing import Any

from courses import Course

from station.keep import SessionFile, StepsWriter
from station.keep.folder import SessionFolder
from station.keep.store import Place, VisitStart, begin_visit
from station.live.findings import effect_of_cues

BEGAN = datetime(2026, 11, 20, 9, 30, tzinfo=timezone.utc)


def told_of(course: Course, **more: Any) -> dict[str, Any]:
    """Return what `session.json` says of a course."""
    effect = effect_of_cues(course.coaching.runs)
    return {
        "began": BEGAN.isoformat(),
        "runner": "R07",
        "source": "camera",
        "plan": {"name": course.plan.name},
        "bay": {"name": "Millrace, Bay 2"},
        "drills": course.session.drills(),
        "events": course.session.events(),
        "baselines": course.session.baselines(),
        "steps": course.session.recorder.steps,
        "frames": {"captured": 9000, "dropped": 12, "tracked_share": 0.998},
        "cues": course.coaching.cue_counts(),
        "withheld_cues": None if effect is None else effect.as_dict(),
        "notices": [],
        "ended": course.ended or "running",
        **more,
    }


def write_session(course: Course, path: Path, **more: Any) -> Path:
    """Write a course's folder."""
    folder = SessionFolder(path)
    path.mkdir(parents=True)
    with StepsWriter(folder.steps) as writer:
        for record in course.rows:
            writer.write(record)
    SessionFile(folder.session).write(told_of(course, **more))
    return path


def put_visit(
    course: Course,
    place: Place,
    began: datetime = BEGAN,
    runner: str = "R07",
    bay: str = "Millrace, Bay 2",
    folder: Path | None = None,
    end: bool = True,
) -> str:
    """Put a course on record as a visit; return its number."""
    uid = uuid.uuid4().hex
    start = VisitStart(
        uid, runner, bay, course.plan.name, "camera", began, None if folder is None else str(folder)
    )
    visit = begin_visit(place, start)
    for record in course.rows:
        visit.write(record)
    told = told_of(course)
    for run, (one, drill) in enumerate(zip(course.coaching.runs, told["drills"], strict=True)):
        visit.drill(run, _before_its_end(drill) if one.ended_s is None else drill)
    for event in told["events"]:
        visit.event(event)
    for baseline in course.coaching.baselines.all():
        visit.baseline(baseline)
    if end:
        visit.end(course.ended or "stopped", {"frames": told["frames"], "notices": []})
    else:
        visit.leave()
    return uid


def _before_its_end(drill: Mapping[str, Any]) -> dict[str, Any]:
    return dict(drill)
