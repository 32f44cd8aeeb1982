"""A belt that nobody changed is noticed within ten seconds; one that was changed, never."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.coach.belt_unchanged import BeltUnchanged
from station.coach.commands import Pause, Resume
from station.coach.plan import Plan
from station.coach.progress import SessionProgress
from station.values import Belt

MPH = 0.44704
LAG_S = 2.0
"""The measured speed is the mean of the last six stances."""
SETTLED_S = 7.0
"""Whoever has changed the belt by then must never be told that it is as it was."""


def noticed_s(
    before_mps: float, asked_mps: float, belt: np.ndarray, times: np.ndarray, scale: float,
    noise: np.ndarray,
) -> float | None:  # fmt: skip
    """Return when a belt is said to be unchanged, seconds after it was asked for."""
    watched = BeltUnchanged(Belt(asked_mps), Belt(before_mps), scale * before_mps, 0.0)
    for i, t_s in enumerate(times):
        late = max(0, i - round(LAG_S / (times[1] - times[0])))
        seen = scale * float(belt[late : i + 1].mean()) * (1.0 + noise[i])
        if watched.see(seen, float(t_s)):
            return float(t_s)
    return None


TIMES = np.arange(0.0, 20.0, 0.1)
SPEEDS = st.floats(1.5, 5.0)
SCALES = st.floats(0.9, 1.1)


@settings(max_examples=60, deadline=None)
@given(
    SPEEDS,
    st.floats(1.051, 1.6),
    st.booleans(),
    SCALES,
    st.floats(0.0, 6.0),
    st.floats(0.1, 1.5),
    st.integers(0, 999),
)
def test_a_belt_that_was_changed_is_never_said_to_be_as_it_was(
    before, factor, slower, scale, begins_s, pace, seed
) -> None:
    asked = before / factor if slower else before * factor
    takes_s = abs(asked - before) / pace
    if begins_s + takes_s > SETTLED_S - 1.0:  # it is there in time, and a second's steps show it
        begins_s = max(0.0, SETTLED_S - 1.0 - takes_s)
        if begins_s + takes_s > SETTLED_S - 1.0:
            pace = abs(asked - before) / (SETTLED_S - 1.0)
    share = np.clip((TIMES - begins_s) * pace / max(abs(asked - before), 1e-9), 0.0, 1.0)
    noise = np.random.default_rng(seed).normal(0.0, 0.01, TIMES.size)
    belt = before + (asked - before) * share
    assert noticed_s(before, asked, belt, TIMES, scale, noise) is None


@settings(max_examples=30, deadline=None)
@given(SPEEDS, st.floats(1.1, 1.6), st.booleans(), SCALES, st.integers(0, 999))
def test_a_belt_that_nobody_changed_is_noticed_within_ten_seconds(
    before, factor, slower, scale, seed
) -> None:
    asked = before / factor if slower else before * factor
    noise = np.random.default_rng(seed).normal(0.0, 0.008, TIMES.size)
    found = noticed_s(before, asked, np.full(TIMES.size, before), TIMES, scale, noise)
    assert found is not None
    assert found <= 10.0


@pytest.fixture
def waiting(drill) -> SessionProgress:
    """Stand in a drill whose belt has been asked for at 60 s, with the one before measured."""
    faster = drill(name="B", belt_speed_mps=8 * MPH, belt_speed_text="8 mph")
    progress = SessionProgress(Plan("P", (drill(), faster)), countdown_s=0.0)
    progress.advance(0.0)
    progress.see_belt(6.2 * MPH, 59.9)
    progress.advance(60.0)
    return progress


def run(progress: SessionProgress, from_s: float, to_s: float, mps: float | None) -> None:
    for t_s in np.arange(from_s, to_s, 0.1):
        progress.advance(float(t_s))
        progress.see_belt(mps, float(t_s))


def kinds(progress: SessionProgress) -> list[str]:
    return [event.kind for event in progress.events]


def test_it_is_an_event_and_on_the_screen_until_the_belt_moves(waiting) -> None:
    run(waiting, 60.0, 67.9, 6.2 * MPH)
    assert not waiting.status().belt_unchanged
    run(waiting, 67.9, 70.0, 6.2 * MPH)
    assert waiting.status().belt_unchanged
    assert kinds(waiting).count("belt unchanged") == 1
    event = next(e.as_dict() for e in waiting.events if e.kind == "belt unchanged")
    assert event["t_s"] - 60.0 <= 10.0
    assert event["asked_mps"] == 8 * MPH
    run(waiting, 70.0, 71.0, 7.0 * MPH)
    assert not waiting.status().belt_unchanged
    assert waiting.belt_waits


@pytest.mark.parametrize("seen", [None, 7.0 * MPH])
def test_who_is_not_seen_to_run_on_as_before_is_told_nothing(waiting, seen) -> None:
    run(waiting, 60.0, 80.0, seen)
    assert "belt unchanged" not in kinds(waiting)


def test_a_pause_is_no_time_to_change_the_belt_in(waiting) -> None:
    waiting.command(Pause(), 61.0)
    run(waiting, 61.0, 75.0, 6.2 * MPH)
    assert "belt unchanged" not in kinds(waiting)
    waiting.command(Resume(), 75.0)
    run(waiting, 75.0, 76.0, 6.2 * MPH)
    assert "belt unchanged" not in kinds(waiting)


def test_a_change_too_small_to_be_seen_is_not_told() -> None:
    watched = BeltUnchanged(Belt(3.1), Belt(3.0), 3.0, 0.0)
    assert not any(watched.see(3.0, t_s) for t_s in (0.0, 4.0, 9.0, 20.0))


def test_an_unmeasured_belt_before_tells_nothing() -> None:
    watched = BeltUnchanged(Belt(4.0), Belt(3.0), None, 0.0)
    assert not any(watched.see(3.0, t_s) for t_s in (0.0, 4.0, 9.0, 20.0))
