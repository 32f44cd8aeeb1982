"""A pose model that has stuck is asked to detect anew, and its frames give no contact."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from station.measure import GaitMeter
from station.simulate.gait import Runner
from station.simulate.parameters import GaitParameters
from station.simulate.trace import add_noise, frame_times, poses, side_view
from station.values import LEG_INDEX, Belt, Pose, ViewProfile

FEET = np.array([LEG_INDEX["left"][2:], LEG_INDEX["right"][2:]])
WAY = GaitParameters()
VIEW = side_view(WAY, "right", 300.0)
PROFILE = ViewProfile("right", 300.0, ((400.0, 640.8), (880.0, 640.8)), 1280, 720)


def stuck(pose: Pose) -> Pose:
    """Put both feet onto one place between them, as a model does whose tracking has stuck."""
    xy = pose.xy_px.copy()
    xy[FEET] = xy[FEET].mean(axis=0)
    return replace(pose, xy_px=xy)


@pytest.mark.parametrize("fps", [30.0, 60.0])
def test_feet_stuck_on_one_place_ask_for_a_fresh_detection(fps: float) -> None:
    runner = Runner(WAY)
    exact = list(add_noise(poses(runner, VIEW, frame_times(fps, 4.0)), 0.005, 300.0))
    apart = [
        float(np.linalg.norm(np.diff(pose.xy_px[FEET].mean(axis=1), axis=0))) for pose in exact
    ]
    # From where the feet are far apart, in the third second.
    start = max(range(int(2.0 * fps), int(3.0 * fps)), key=lambda i: apart[i]) - round(0.05 * fps)
    length = round(0.15 * fps)
    shown = [stuck(pose) if start <= i < start + length else pose for i, pose in enumerate(exact)]
    meter = GaitMeter(PROFILE, Belt(WAY.belt_mps))
    seen = [meter.push(pose) for pose in shown]
    asked = [i for i, o in enumerate(seen) if o.detect_anew]
    assert asked
    assert start + round(0.08 * fps) <= asked[0] < start + length
    assert asked[-1] < start + length + round(0.1 * fps)  # cured, nothing more is asked
    true = runner.truth()
    landings = [landing for o in seen for landing in o.landings]
    for landing in landings:
        near = min(true, key=lambda t: abs(t.t_contact_s - landing.t_contact_s))
        assert abs(near.t_contact_s - landing.t_contact_s) < 0.05
        assert near.side == landing.side
    again_s = exact[start + length].t_s + 0.3
    for contact in true:
        if again_s < contact.t_contact_s < 3.8:
            assert any(abs(m.t_contact_s - contact.t_contact_s) < 0.05 for m in landings)


def test_a_single_collapsed_frame_asks_for_nothing() -> None:
    exact = list(poses(Runner(WAY), VIEW, frame_times(60.0, 2.0)))
    meter = GaitMeter(PROFILE, Belt(WAY.belt_mps))
    assert not any(
        meter.push(stuck(pose) if i % 25 == 0 else pose).detect_anew for i, pose in enumerate(exact)
    )
