"""Run a whole session in this process, as `station run` does, on a source of the proof's own."""

from __future__ import annotations

import argparse
import contextlib
import dataclasses
import io
import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from station.commands.perform import Job, perform
from station.commands.run import feed_maker
from station.commands.simulated import demo_bay, demo_scenario
from station.ports import FrameSource
from station.settings import read_plan

PLAN = """name = "Proof"
[[drill]]
name = "Proof"
belt_speed = "6 mph"
step_rate = {rate}
seconds = {seconds}
feedback = "{feedback}"
landing_limit_deg = {limit}
"""


def plan_text(
    rate_spm: float, seconds: float, feedback: str = "off", limit_deg: float = 8.0
) -> str:
    """Return a plan of one drill, as its file's text."""
    return PLAN.format(rate=rate_spm, seconds=seconds, feedback=feedback, limit=limit_deg)


@dataclass(frozen=True)
class Outcome:
    """What a session left behind."""

    session: dict[str, Any]
    """`session.json`."""

    @property
    def frames(self) -> dict[str, Any]:
        """The counts of its frames."""
        frames: dict[str, Any] = self.session["frames"]
        return frames


def run_session(
    source: FrameSource,
    folder: Path,
    rate_spm: float,
    seconds: float,
    feedback: str = "off",
    limit_deg: float = 8.0,
    window: bool = False,
    volume: float = 0.6,
    fast: bool = False,
    bay: Mapping[str, Any] | None = None,
) -> Outcome:
    """Run one drill on a source; the sound goes where the environment says.

    Args:
        source: Shows the runner.
        folder: For the plan and the session's files; new or empty.
        rate_spm: Of the beat and target.
        seconds: Of the drill.
        feedback: As in a plan.
        limit_deg: Landing limit.
        window: Open a window, where DISPLAY says.
        volume: 0 to 1.
        fast: As fast as it goes, on stream time, without a sound device.
        bay: Fields of the bay that are other than the demo's.
    """
    folder.mkdir(parents=True, exist_ok=True)
    plan = folder / "plan.toml"
    plan.write_text(plan_text(rate_spm, seconds, feedback, limit_deg), encoding="utf-8")
    changed = dataclasses.replace(demo_bay(demo_scenario()), volume=volume, **(bay or {}))
    job = Job(
        kind="clip",
        make_feed=feed_maker(source, fast),
        source=source,
        plan=read_plan(plan),
        bay=changed,
        out=folder / "session",
        stream_time=fast,
        window=window,
        seconds=seconds + 1.0,
    )
    with contextlib.redirect_stdout(io.StringIO()):
        perform(job, argparse.Namespace())
    told = json.loads((folder / "session" / "session.json").read_text(encoding="utf-8"))
    return Outcome(told)
