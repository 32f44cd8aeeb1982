"""Sessions of hand-made steps, for reports on what is missing."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from station.keep import StepsWriter
from station.values import Step, StepRecord

OFF = {"beat": False, "guides": False, "view": True, "cue": "off", "cue_share": 0.0}
ON = {"beat": True, "guides": True, "view": True, "cue": "every step", "cue_share": 1.0}
LIMIT_DEG = 7.0


def steps_of(
    drill: str,
    count: int,
    deg: float = 6.0,
    began_s: float = 0.0,
    sides: Sequence[str] = ("left", "right"),
    near: Sequence[str] = ("left", "right"),
    each_s: float = 0.35,
    **more: Any,
) -> list[StepRecord]:
    """Return steps that land at about `deg`, every third a degree more."""
    rows = []
    for i in range(count):
        side = sides[i % len(sides)]
        shank = deg + (1.0 if i % 3 == 0 else -0.1 * (i % 5))
        t_s = began_s + each_s * (i + 1)
        step = Step(
            i + 1, side, side in near, t_s, t_s + 0.05, step_time_s=each_s,
            step_length_m=2.7 * each_s, shank_deg=shank, shank_at_verdict_deg=shank, confidence=0.8,
        )  # fmt: skip
        landing = "within" if shank <= LIMIT_DEG else "ahead"
        rows.append(StepRecord(step, drill, landing, False, None, None, **more))
    return rows


def drill_told(name: str, began_s: float, ended_s: float | None, **more: Any) -> dict[str, Any]:
    """Return what a session tells of a drill."""
    limit = {"deg": LIMIT_DEG, "origin": "baseline"}
    return {
        "number": 1, "name": name, "kind": "run", "began_s": began_s, "ended_s": ended_s,
        "why": None if ended_s is None else "length", "belt_speed_mps": 2.7,
        "incline_percent": 0.0, "target_spm": None, "limits": {"left": limit, "right": limit},
        "channels": OFF, "withhold_share": 0.0, **more,
    }  # fmt: skip


def write_folder(
    path: Path, rows: Iterable[StepRecord], drills: Sequence[dict[str, Any]], **more: Any
) -> Path:
    """Write a session's folder."""
    path.mkdir(parents=True)
    with StepsWriter(path / "steps.csv") as writer:
        for row in rows:
            writer.write(row)
    told = {
        "began": "2026-11-20T10:00:00+01:00", "runner": "R07", "source": "camera",
        "plan": {"name": "Easy"}, "bay": {"name": "Bay 2"}, "drills": list(drills), "events": [],
        "ended": "plan done", **more,
    }  # fmt: skip
    (path / "session.json").write_text(json.dumps(told), encoding="utf-8")
    return path
