"""Steps as they are kept, back into values; and which drill each belongs to."""

from __future__ import annotations

from collections.abc import Sequence

from station.keep.report.facts import DrillFacts
from station.keep.report.told import Table, drill_of, number, text
from station.keep.step_columns import COLUMNS, StepColumn
from station.values import Step, StepRecord, Verdict

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


def record_of(
    number: int | None, drill: str | None, side: str | None, near: bool | None, t_contact_s: float,
    t_verdict_s: float | None, t_cue_s: float | None, step_time_s: float | None,
    step_length_m: float | None, shank_deg: float | None, shank_at_verdict_deg: float | None,
    beat_offset_s: float | None, landing: str | None, cued: bool | None, withheld: bool | None,
    confidence: float | None,
) -> StepRecord:  # fmt: skip
    """Return a step from its plain values in the order of `NEEDED`; None: not known.

    By place, not by name: a progress report makes fifty thousand of them.
    """
    step = Step(
        number or 0, "left" if side == "left" else "right", bool(near), t_contact_s,
        t_contact_s if t_verdict_s is None else t_verdict_s, None, step_time_s, None, None, None,
        step_length_m, None, shank_deg, shank_at_verdict_deg, confidence=confidence or 0.0,
    )  # fmt: skip
    verdict: Verdict | None = (
        "within" if landing == "within" else "ahead" if landing == "ahead" else None
    )
    return StepRecord(
        step, drill or "", verdict, bool(cued), t_cue_s, beat_offset_s, None, bool(withheld)
    )


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
