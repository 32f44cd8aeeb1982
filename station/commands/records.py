"""What `session.json` says of a session."""

from __future__ import annotations

import platform
from datetime import datetime
from importlib import metadata
from typing import Any

from station import __version__
from station.coach.plan import Plan
from station.live import Feed, Session
from station.live.findings import effect_of_cues, rate_test_of
from station.ports import SourceInfo, Speaker
from station.values import Bay

_PACKAGES = ("mediapipe", "opencv-contrib-python", "numpy", "scipy", "sounddevice", "pygame")


def versions() -> dict[str, str]:
    """Return the versions of the station and of what its results depend on."""
    found = {"landing-station": __version__, "python": platform.python_version()}
    for name in _PACKAGES:
        try:
            found[name] = metadata.version(name)
        except metadata.PackageNotFoundError:
            found[name] = "unknown"
    return found


def heading(
    kind: str, info: SourceInfo, plan: Plan, bay: Bay, runner: str | None, began: datetime,
    fast: bool, speaker: Speaker,
) -> dict[str, Any]:  # fmt: skip
    """Return what is known at the session's start."""
    return {
        "began": began.astimezone().isoformat(timespec="seconds"),
        "runner": runner,
        "source": kind,
        "source_name": info.name,
        "picture": {"width": info.width, "height": info.height, "fps": info.fps},
        "fast": fast,
        "plan": {"name": plan.name, "drills": [drill.name for drill in plan.drills]},
        "bay": {"name": bay.name},
        "sound": speaker.name,
        "versions": versions(),
    }


def outcome(session: Session, feed: Feed, notices: list[str], ended: str) -> dict[str, Any]:
    """Return what came of it so far."""
    counts = session.view_counter.counts(feed.captured, feed.dropped)
    view = session.observation.view if session.observation is not None else None
    effect = effect_of_cues(session.coaching.runs)
    test = rate_test_of(session.coaching.runs, session.coaching.baselines)
    return {
        "drills": session.drills(),
        "events": session.events(),
        "baselines": session.baselines(),
        "steps": session.recorder.steps,
        "frames": {
            "captured": counts.captured,
            "tracked": counts.tracked,
            "in_view": counts.in_view,
            "dropped": counts.dropped,
            "tracked_share": counts.tracked_share,
            "detected_anew": session.detected_anew,
        },
        "cues": session.coaching.cue_counts(),
        "withheld_cues": None if effect is None else effect.as_dict(),
        "rate_test": None if test is None else test.as_dict(),
        "latency_s": {name: one.as_dict() for name, one in session.latencies.items()},
        "view": None
        if view is None
        else {"px_per_m": view.px_per_m, "faces": view.faces, "belt_rise_deg": view.belt_rise_deg},
        "notices": [*notices, *session.board.kept, *session.coaching.kept_notices],
        "ended": ended,
    }
