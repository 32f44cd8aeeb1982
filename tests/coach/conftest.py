"""Tiny builders for the coach's tests."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from station.coach.plan import Drill
from station.values import Landing, Side, Step, StepRecord, Verdict, other


def build_landing(
    t_s: float = 1.0,
    side: Side = "right",
    shank_deg: float | None = 6.0,
    *,
    error_deg: float | None = 1.0,
    confidence: float = 0.9,
    rate_spm: float | None = 180.0,
    number: int = 1,
) -> Landing:
    return Landing(
        number=number,
        side=side,
        near=side == "right",
        t_contact_s=t_s,
        t_verdict_s=t_s + 0.05,
        shank_deg=shank_deg,
        shank_error_deg=error_deg,
        ankle_ahead_m=None,
        foot_deg=None,
        strike="unsure",
        step_time_s=None if rate_spm is None else 60.0 / rate_spm,
        confidence=confidence,
        knee_px=(0.0, 0.0),
        ankle_px=(0.0, 0.0),
        heel_px=(0.0, 0.0),
        toe_px=(0.0, 0.0),
    )


def build_run(
    count: int, shank_deg: float = 6.0, start_s: float = 0.0, rate_spm: float = 180.0
) -> list[Landing]:
    """Alternate feet, right first, evenly in time."""
    side: Side = "right"
    made = []
    for i in range(count):
        made.append(
            build_landing(
                start_s + i * 60.0 / rate_spm, side, shank_deg, rate_spm=rate_spm, number=i + 1
            )
        )
        side = other(side)
    return made


def build_record(
    side: Side = "left",
    landing: Verdict | None = "within",
    *,
    shank_deg: float | None = 6.0,
    step_time_s: float | None = 0.35,
    cued: bool = False,
    beat_offset_s: float | None = None,
) -> StepRecord:
    step = Step(1, side, False, 1.0, 1.05, step_time_s=step_time_s, shank_deg=shank_deg)
    return StepRecord(step, "A", landing, cued, 1.1 if cued else None, beat_offset_s)


@pytest.fixture(scope="session")
def landing() -> Callable[..., Landing]:
    return build_landing


@pytest.fixture(scope="session")
def run() -> Callable[..., list[Landing]]:
    return build_run


@pytest.fixture(scope="session")
def record() -> Callable[..., StepRecord]:
    return build_record


@pytest.fixture(scope="session")
def drill() -> Callable[..., Drill]:
    """Build a run drill of 60 s at 6 mph; anything can be overridden."""

    def build(**changes: object) -> Drill:
        given: dict[str, object] = {
            "name": "A",
            "belt_speed_mps": 6 * 0.44704,
            "belt_speed_text": "6 mph",
            "seconds": 60.0,
            **changes,
        }
        return Drill(**given)  # type: ignore[arg-type]

    return build
