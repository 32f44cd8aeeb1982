"""What an export holds: each table's columns with kind, unit and meaning."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

from sqlalchemy import Column, Select, Table, select

from station.keep.step_columns import COLUMNS, StepColumn
from station.keep.store.tables import (
    answers,
    baselines,
    consents,
    drills,
    events,
    runners,
    steps,
    visits,
)

Kind = Literal["integer", "number", "text", "truth", "instant", "json"]
_S = "s from the visit's start"


@dataclass(frozen=True, slots=True)
class Field:
    """One column of an export."""

    name: str
    kind: Kind
    unit: str
    meaning: str
    decimals: int = 6


@dataclass(frozen=True, slots=True)
class Sheet:
    """One table of an export."""

    name: str
    fields: tuple[Field, ...]
    ask: Callable[[], Select[Any]]
    """Gives the rows, by fields' names; to be narrowed by `of_visits` or `of_runners`."""
    by: Table
    """`visits` or `runners`: whose numbers narrow it."""
    order: tuple[Column[Any], ...]


_WHO = (
    Field("runner", "text", "", "the runner's code"),
    Field("visit", "text", "", "the visit's own number, the same in every table"),
)
_BY_VISIT: tuple[Column[Any], ...] = (visits.c.began, visits.c.id)


def _of_visit(table: Table, *leave_out: str) -> Callable[[], Select[Any]]:
    mine = [c for c in table.columns if c.name not in ("visit", "id", *leave_out)]
    return lambda: (
        select(runners.c.code.label("runner"), visits.c.uid.label("visit"), *mine)
        .select_from(table)
        .join(visits, visits.c.id == table.c.visit)
        .join(runners, runners.c.id == visits.c.runner)
    )


def _of_runner(table: Table) -> Callable[[], Select[Any]]:
    mine = [c for c in table.columns if c.name not in ("runner", "id")]
    return lambda: (
        select(runners.c.code.label("runner"), *mine)
        .select_from(table)
        .join(runners, runners.c.id == table.c.runner)
    )


def _step(column: StepColumn) -> Field:
    return Field(column.name, column.kind, column.unit, column.meaning, column.decimals)


_LEGS = tuple(
    field
    for side in ("left", "right")
    for field in (
        Field(f"{side}_count", "integer", "", f"landings of the {side} leg in it"),
        Field(f"{side}_median_deg", "number", "deg", f"median shank angle at contact, {side}", 4),
        Field(f"{side}_spread_deg", "number", "deg", f"robust standard deviation, {side}", 4),
        Field(f"{side}_contact_s", "number", "s", f"median contact time, {side}", 4),
    )
)

SHEETS: tuple[Sheet, ...] = (
    Sheet(
        "runners",
        (
            _WHO[0],
            Field("belt_cap_mps", "number", "m/s", "fastest belt for this runner; empty: none set"),
            Field("hops_cap", "integer", "hops", "most hops of a visit; empty: none set"),
            Field("made", "instant", "UTC", "when the code was entered"),
        ),
        lambda: select(runners.c.code.label("runner"), *list(runners.columns)[2:]),
        runners,
        (runners.c.code,),
    ),
    Sheet(
        "consents",
        (
            _WHO[0],
            Field("kind", "text", "", "what it is about: video"),
            Field("given", "truth", "", "true: allowed; false: not, or not any more"),
            Field("said", "instant", "UTC", "when it was said; the newest counts"),
        ),
        _of_runner(consents),
        runners,
        (runners.c.code, consents.c.id),
    ),
    Sheet(
        "visits",
        (
            *_WHO,
            Field("bay", "text", "", "name of the bay"),
            Field("plan", "text", "", "name of the plan"),
            Field("source", "text", "", "camera, clip, demo (an invented runner) or trace"),
            Field("folder", "text", "", "where steps.csv, session.json and films were written"),
            Field("began", "instant", "UTC", "second 0 of the visit"),
            Field("ended", "instant", "UTC", "its end, or the last sign of it"),
            Field("state", "text", "", "open, ended or broken off"),
            Field("why", "text", "", "why it ended"),
            Field("steps", "integer", "steps", "how many steps are on record"),
            Field("within", "integer", "landings", "judged within the runner's limit"),
            Field("ahead", "integer", "landings", "judged ahead of the runner's limit"),
            Field("running_s", "number", "s", "from the first to the last contact", 4),
            Field("steps_lost", "integer", "entries", "that no disk had room for"),
            Field("versions", "json", "", "of the station and of what its results depend on"),
            Field("told", "json", "", "frames, cues, delays and notices, as in session.json"),
        ),
        lambda: (
            select(
                runners.c.code.label("runner"),
                visits.c.uid.label("visit"),
                *(c for c in visits.columns if c.name not in ("id", "uid", "runner")),
            )
            .select_from(visits)
            .join(runners, runners.c.id == visits.c.runner)
        ),
        visits,
        _BY_VISIT,
    ),
    Sheet(
        "baselines",
        (
            *_WHO,
            Field("belt_mps", "number", "m/s", "belt speed that it belongs to", 4),
            Field("incline_percent", "number", "%", "incline that it belongs to", 2),
            Field(
                "step_rate_spm", "number", "steps per minute", "median, the runner left alone", 2
            ),
            *_LEGS,
        ),
        _of_visit(baselines),
        visits,
        (*_BY_VISIT, baselines.c.id),
    ),
    Sheet(
        "drills",
        (
            *_WHO,
            Field("run", "integer", "", "counts the drills as they were run, from 0"),
            Field("number", "integer", "", "of the drill in its plan"),
            Field("name", "text", "", "of the drill"),
            Field("kind", "text", "", "run, hop, lean or rest"),
            Field("began_s", "number", _S, "its beginning", 4),
            Field("ended_s", "number", _S, "its end; empty: it was broken off", 4),
            Field("why", "text", "", "why it ended"),
            Field("belt_speed_mps", "number", "m/s", "what the belt was set to", 4),
            Field("incline_percent", "number", "%", "what the incline was set to", 2),
            Field("target_spm", "number", "steps per minute", "target step rate", 2),
            Field("beat_spm", "number", "steps per minute", "the last beat in it", 2),
            Field("landings", "integer", "steps", "steps of the drill"),
            Field("share_within", "number", "share", "within, of the judged landings"),
            Field("share_ahead", "number", "share", "ahead, of the judged landings"),
            Field("share_unjudged", "number", "share", "not judged, of all landings"),
            Field("step_rate_spm", "number", "steps per minute", "median of the single steps", 2),
            Field("cues", "integer", "cues", "cues that sounded"),
            Field("felt", "number", "share", "how many landings felt good to the runner"),
            Field("feel_gap", "number", "share", "felt minus measured share within"),
            Field("told", "json", "", "all of the drill's summary, as in session.json"),
        ),
        _of_visit(drills),
        visits,
        (*_BY_VISIT, drills.c.run),
    ),
    Sheet(
        "events",
        (
            *_WHO,
            Field("row", "integer", "", "counts the events of the visit, from 0"),
            Field("t_s", "number", _S, "when", 4),
            Field("kind", "text", "", "what happened"),
            Field("why", "text", "", "why"),
            Field("details", "json", "", "its values"),
        ),
        _of_visit(events),
        visits,
        (*_BY_VISIT, events.c.row),
    ),
    Sheet(
        "answers",
        (
            *_WHO,
            Field("row", "integer", "", "counts the answers of the visit, from 0"),
            Field("t_s", "number", _S, "when", 4),
            Field("moment", "text", "", "before, after, or since the last visit"),
            Field("score", "integer", "0 to 10", "pain or soreness; 0 is none"),
            Field("place", "text", "", "where"),
            Field("kinds", "json", "", "what kind of pain"),
        ),
        _of_visit(answers),
        visits,
        (*_BY_VISIT, answers.c.row),
    ),
    Sheet(
        "steps",
        (*_WHO, *(_step(column) for column in COLUMNS)),
        _of_visit(steps, "row"),
        visits,
        (*_BY_VISIT, steps.c.row),
    ),
)
"""Every table of an export."""
