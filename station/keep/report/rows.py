"""Steps as they are kept, back into values; and which drill each belongs to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from station.keep.report.facts import DrillFacts
from station.keep.report.told import Table, drill_of, number, text
from station.keep.step_columns import COLUMNS, StepColumn
from station.values import Step, StepRecord

NEEDED: tuple[str, ...] = (
    "step", "drill", "side", "near", "t_contact_s", "t_verdict_s", "t_cue_s", "step_time_s",
    "step_length_m", "shank_deg", "shank_at_verdict_deg", "beat_offset_s", "landing", "cued",
    "withheld", "confidence",
)  # fmt: skip
"""Columns of a step that reports are made from; the others stay unknown."""
REQUIRED: tuple[str, ...] = ("step", "drill", "side", "near", "t_contact_s", "landing")
KINDS: dict[str, StepColumn] = {column.name: column for column in COLUMNS if column.name in NEEDED}
_EDGE_S = 1e-3
"""Times of steps are kept to 0.1 ms, those of drills more finely."""


def record_of(row: Mapping[str, Any]) -> StepRecord:
    """Return a step from its plain values by column name; a missing one is not known."""
    get = row.get
    step = Step(
        number=get("step") or 0,
        side="left" if get("side") == "left" else "right",
        near=bool(get("near")),
        t_contact_s=row["t_contact_s"],
        t_verdict_s=get("t_verdict_s") or row["t_contact_s"],
        step_time_s=get("step_time_s"),
        step_length_m=get("step_length_m"),
        shank_deg=get("shank_deg"),
        shank_at_verdict_deg=get("shank_at_verdict_deg"),
        confidence=get("confidence") or 0.0,
    )
    landing = get("landing")
    return StepRecord(
        step, get("drill") or "", landing if landing in ("within", "ahead") else None,
        bool(get("cued")), get("t_cue_s"), get("beat_offset_s"), withheld=bool(get("withheld")),
    )  # fmt: skip


def into_drills(
    told: Sequence[Table], records: Sequence[StepRecord]
) -> tuple[tuple[DrillFacts, ...], tuple[StepRecord, ...]]:
    """Give each step to the drill that it was made in.

    Args:
        told: The drills as they were run, in order, as the session told them.
        records: In order of time.

    Returns:
        The drills with their steps, and the steps of none.
    """
    spans = [
        (text(one, "name") or "", number(one, "began_s") or 0.0, number(one, "ended_s"))
        for one in told
    ]
    mine: list[list[StepRecord]] = [[] for _ in spans]
    loose: list[StepRecord] = []
    for record in records:
        at = _run_of(record, spans)
        (loose if at is None else mine[at]).append(record)
    drills = tuple(drill_of(one, rows) for one, rows in zip(told, mine, strict=True))
    return drills, tuple(loose)


def _run_of(record: StepRecord, spans: Sequence[tuple[str, float, float | None]]) -> int | None:
    t_s = record.step.t_contact_s
    for at in range(len(spans) - 1, -1, -1):
        name, began_s, ended_s = spans[at]
        if name != record.drill or not record.drill:
            continue
        if began_s - _EDGE_S <= t_s and (ended_s is None or t_s < ended_s + _EDGE_S):
            return at
    return None
