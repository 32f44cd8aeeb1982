"""A belt that does not run as it is believed to is found out, and nothing is judged by it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from station.measure import GaitMeter
from station.simulate.gait import Runner
from station.simulate.parameters import GaitParameters
from station.simulate.trace import add_noise, frame_times, poses, side_view
from station.simulate.walking import Walker
from station.values import Belt, Observation, Pose, ViewProfile

FPS = 30.0
TOLD_MPS, WALKED_MPS = 2.7, 1.3
RUN_S, WALK_S, AGAIN_S = 6.0, 6.0, 6.0
RUN = GaitParameters(belt_mps=TOLD_MPS, rate_spm=165.0)
VIEW = side_view(RUN, "right", 300.0)
PROFILE = ViewProfile(
    "right", 300.0, ((240.0, VIEW.origin_px[1]), (1040.0, VIEW.origin_px[1])), 1280, 720
)


def of(who: Runner | Walker, seconds: float, after: list[Pose]) -> list[Pose]:
    found = add_noise(poses(who, VIEW, frame_times(FPS, seconds)), 0.005, 300.0)  # type: ignore[arg-type]
    n = len(after)
    return [replace(p, t_s=p.t_s + n / FPS, index=p.index + n) for p in found]


@pytest.fixture(scope="module")
def seen() -> list[Observation]:
    """Run, then walk on a belt that somebody slowed down by its own buttons, then run again."""
    sequence = of(Runner(RUN), RUN_S, [])
    sequence += of(Walker(WALKED_MPS), WALK_S, sequence)
    sequence += of(Runner(RUN), AGAIN_S, sequence)
    meter = GaitMeter(PROFILE, Belt(TOLD_MPS))
    return [meter.push(pose) for pose in sequence]


def between(seen: list[Observation], from_s: float, to_s: float) -> list[Observation]:
    return [o for o in seen if from_s <= o.t_s < to_s]


def test_who_walks_on_a_belt_that_should_run_is_told_of(seen: list[Observation]) -> None:
    walk = between(seen, RUN_S, RUN_S + WALK_S)
    told_s = next(o.t_s for o in walk if o.trouble == "walking")
    assert told_s - RUN_S < 5.0
    assert {o.trouble for o in walk if o.t_s >= told_s} == {"walking"}
    speed = walk[-1].belt_mps
    assert speed is None or speed == pytest.approx(WALKED_MPS, rel=0.1)


def test_landings_are_not_judged_by_a_belt_that_runs_otherwise(seen: list[Observation]) -> None:
    walk = between(seen, RUN_S + 1.5, RUN_S + WALK_S)
    landings = [landing for o in walk for landing in o.landings]
    assert len(landings) >= 6
    assert {landing.shank_deg for landing in landings} == {None}
    assert {s.step_length_m for o in walk for s in o.steps if s.t_contact_s > RUN_S + 3.0} == {None}


def test_who_runs_again_at_the_old_speed_is_judged_again(seen: list[Observation]) -> None:
    again = between(seen, RUN_S + WALK_S, RUN_S + WALK_S + AGAIN_S)
    judged = [o for o in again for landing in o.landings if landing.shank_deg is not None]
    assert judged[0].t_s - RUN_S - WALK_S < 4.5
    assert again[-1].trouble is None
    assert again[-1].belt_mps == pytest.approx(TOLD_MPS, rel=0.06)


def test_a_runner_at_half_the_speed_told_is_a_runner() -> None:
    """Whose belt was told wrong is no walker: the feet show what it does."""
    slow = replace(RUN, belt_mps=2.0, rate_spm=160.0)
    meter = GaitMeter(PROFILE, Belt(4.0))
    seen = [meter.push(pose) for pose in of(Runner(slow), 8.0, [])]
    assert "walking" not in {o.trouble for o in seen}
    assert seen[-1].belt_mps == pytest.approx(2.0, rel=0.06)
    assert any(landing.shank_deg is not None for o in seen[-60:] for landing in o.landings)


def test_no_length_is_told_while_another_speed_is_waited_for() -> None:
    """It would be worked out from a speed that the belt may not run at any more."""
    meter, steps = GaitMeter(PROFILE, Belt(TOLD_MPS)), []
    for pose in of(Runner(RUN), 4.0, []):
        if pose.index == 60:
            meter.belt_is_being_set(True)
        steps += meter.push(pose).steps
    lengths = [(s.t_contact_s, s.step_length_m) for s in steps if s.step_time_s is not None]
    assert {length for t_s, length in lengths if t_s > 2.1} == {None}
    assert all(length is not None for t_s, length in lengths if t_s < 1.9)


def test_a_fast_belt_is_measured_though_its_stances_are_short() -> None:
    """Of a stance of 0.12 s little is left between a shoe that gives way and a heel that rises."""
    way = replace(RUN, belt_mps=5.5, rate_spm=180.0, foot_deg=-6.0, shank_deg=-4.0, height_m=1.93)
    view = side_view(way, "right", 300.0)
    belt_px = ((240.0, view.origin_px[1]), (1040.0, view.origin_px[1]))
    exact = list(poses(Runner(way), view, frame_times(60.0, 8.0)))
    told: list[float] = []
    for seed in (1, 2, 3):
        meter = GaitMeter(ViewProfile("right", 300.0, belt_px, 1280, 720), Belt(way.belt_mps))
        seen = [meter.push(pose) for pose in add_noise(exact, 0.010, 300.0, seed)]
        told += [o.belt_mps for o in seen if o.t_s > 2.0 and o.belt_mps]
    assert np.mean(told) == pytest.approx(way.belt_mps, rel=0.02)
