"""The batch's table: one row a recording, from the sessions' own files."""

from __future__ import annotations

import csv
import json
import os
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from station.batch.work import Outcome
from station.keep.folder import SESSION_FILE
from station.keep.numbers import number

TABLE_FILE = "batch.csv"
NOT_YET = "not analysed yet"
"""The message of a recording that the batch did not come to; its other cells are empty."""
COLUMNS = (
    "recording", "exit_code", "message", "seconds", "steps", "in_view_share", "step_rate_spm",
    "left_landings", "left_median_shank_deg", "left_ahead_share",
    "right_landings", "right_median_shank_deg", "right_ahead_share", "folder",
)  # fmt: skip
"""`step_rate_spm`, landings and shares are of the drill with the most landings; the shank angle is
to gravity at initial contact, positive with the ankle ahead of the knee, in degrees; `seconds` is
that drill's length. `folder` holds the steps, relative to the table. Empty: not known."""


def write_table(out: Path, outcomes: Iterable[Outcome], waiting: Iterable[str] = ()) -> Path:
    """Write the table anew, whole or not at all, and return its path.

    Args:
        out: The folder of all results.
        outcomes: One a recording, in any order.
        waiting: Names of the recordings that have none yet.
    """
    path = out / TABLE_FILE
    making = path.with_name(f".{TABLE_FILE}.making")
    with making.open("w", encoding="utf-8", newline="") as file:
        table = csv.DictWriter(file, COLUMNS, restval="", lineterminator="\n")
        table.writeheader()
        rows = [row(out, outcome) for outcome in outcomes]
        rows += [{"recording": name, "message": NOT_YET} for name in waiting]
        table.writerows(sorted(rows, key=lambda one: one["recording"]))
    os.replace(making, path)
    return path


def row(out: Path, outcome: Outcome) -> dict[str, str]:
    """Return one recording's row; see `COLUMNS`."""
    told = {
        "recording": outcome.name,
        "exit_code": str(outcome.exit_code),
        "message": " ".join(outcome.message.split()),
    }
    if outcome.exit_code:
        return told
    session = json.loads((out / outcome.name / SESSION_FILE).read_text(encoding="utf-8"))
    drills: list[dict[str, Any]] = session["drills"]
    drill = max(drills, key=lambda one: int(one["landings"]), default={})
    captured = session["frames"]["captured"]
    told |= {
        "folder": outcome.name,
        "steps": str(session["steps"]),
        "in_view_share": number(session["frames"]["in_view"] / captured if captured else None, 3),
        "step_rate_spm": number(drill.get("step_rate_spm"), 2),
    }
    if drill and drill["ended_s"] is not None:
        told["seconds"] = number(drill["ended_s"] - drill["began_s"], 2)
    for side in ("left", "right"):
        told |= _leg(side, drill.get(side) or {})
    return told


def _leg(side: str, leg: Mapping[str, Any]) -> dict[str, str]:
    return {
        f"{side}_landings": str(leg.get("landings", "")),
        f"{side}_median_shank_deg": number(leg.get("median_shank_deg"), 2),
        f"{side}_ahead_share": number(leg.get("share_ahead"), 3),
    }
