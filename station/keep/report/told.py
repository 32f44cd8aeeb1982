"""Takes values out of plain JSON: what is of another kind than it should be is not known."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any, get_args

from station.coach.feel_gap import FeelGap
from station.coach.plan import Feedback
from station.coach.summary import BeatSummary
from station.coach.verdict import LandingLimit, LandingLimits, LimitOrigin
from station.keep.report.facts import Channels, DrillFacts, EventFacts
from station.values import StepRecord

Table = Mapping[str, Any]


def number(table: Table, key: str) -> float | None:
    """Return a finite number; None: there is none."""
    value = table.get(key)
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return None
    return float(value) if math.isfinite(value) else None


def whole(table: Table, key: str) -> int | None:
    """Return a whole number; None: there is none."""
    value = number(table, key)
    return None if value is None else round(value)


def text(table: Table, key: str) -> str | None:
    """Return a text that is not empty; None: there is none."""
    value = table.get(key)
    return value if isinstance(value, str) and value else None


def table_of(table: Table, key: str) -> Table:
    """Return a table; an empty one where there is none."""
    value = table.get(key)
    return value if isinstance(value, Mapping) else {}


def tables(table: Table, key: str) -> list[Table]:
    """Return a list of tables; an empty one where there is none."""
    value = table.get(key)
    if not isinstance(value, Sequence) or isinstance(value, str):
        return []
    return [one for one in value if isinstance(one, Mapping)]


def texts(table: Table, key: str) -> tuple[str, ...]:
    """Return a list of texts."""
    value = table.get(key)
    if not isinstance(value, Sequence) or isinstance(value, str):
        return ()
    return tuple(one for one in value if isinstance(one, str))


# --- a drill ------------------------------------------------------------------------------------


def drill_of(told: Table, records: Sequence[StepRecord]) -> DrillFacts:
    """Return a drill from what the session told of it.

    Args:
        told: As in `session.json`, and in the records' drills.
        records: Its steps.
    """
    return DrillFacts(
        number=whole(told, "number"),
        name=text(told, "name") or "",
        kind=text(told, "kind") or "run",
        began_s=number(told, "began_s") or 0.0,
        ended_s=number(told, "ended_s"),
        why=text(told, "why"),
        belt_mps=number(told, "belt_speed_mps"),
        incline_percent=number(told, "incline_percent"),
        target_spm=number(told, "target_spm"),
        limits=_limits(table_of(told, "limits")),
        limit_by_deg=number(told, "limit_by_deg") or 0.0,
        channels=_channels(table_of(told, "channels")),
        withhold_share=number(told, "withhold_share"),
        beat=_beat(table_of(told, "beat")),
        felt=_felt(table_of(told, "felt")),
        records=tuple(records),
    )


def _limits(told: Table) -> LandingLimits | None:
    left, right = (_limit(table_of(told, side)) for side in ("left", "right"))
    return None if left is None or right is None else LandingLimits(left, right)


def _limit(told: Table) -> LandingLimit | None:
    deg, origin = number(told, "deg"), text(told, "origin")
    for known in get_args(LimitOrigin):
        if deg is not None and origin == known:
            return LandingLimit(deg, known)
    return None


def _channels(told: Table) -> Channels | None:
    flags = [told.get(name) for name in ("beat", "guides", "view")]
    cue, share = told.get("cue"), number(told, "cue_share")
    if not all(isinstance(flag, bool) for flag in flags) or share is None:
        return None
    beat, guides, view = (bool(flag) for flag in flags)
    for known in get_args(Feedback):
        if cue == known:
            return Channels(beat, guides, view, known, share)
    return None


def _beat(told: Table) -> BeatSummary | None:
    steps, concentration = whole(told, "steps"), number(told, "concentration")
    share = number(told, "share_locked")
    if steps is None or concentration is None or share is None:
        return None
    return BeatSummary(steps, concentration, number(told, "mean_offset_s"), share)


def _felt(told: Table) -> FeelGap | None:
    judged = whole(told, "judged")
    if judged is None:
        return None
    return FeelGap(
        whole(told, "good_of_ten"), number(told, "share_within"), judged, number(told, "gap"),
        text(told, "note"),
    )  # fmt: skip


def event_of(told: Table) -> EventFacts:
    """Return an event."""
    rest = {key: value for key, value in told.items() if key not in ("t_s", "kind", "why")}
    return EventFacts(
        number(told, "t_s") or 0.0, text(told, "kind") or "", text(told, "why") or "", rest
    )
