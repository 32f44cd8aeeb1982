"""Trouble in the picture, through the real pose model: what is not seen is not judged.

Drawn pictures of the simulated runner, spoiled as a bay's may be, go through the model and the
measurement as in a session. A session may know its view from a profile or have to learn it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import pytest

from station.clock import StreamClock
from station.measure import GaitMeter
from station.see.pose_model import MediapipePose
from station.simulate.gait import Runner
from station.simulate.parameters import GaitParameters
from station.simulate.picture import PictureOptions, demo_view
from station.simulate.source import SimulatedSource
from station.values import (
    Belt,
    Frame,
    Landing,
    Observation,
    Pose,
    Step,
    TrueStep,
    ViewProfile,
)

FPS, WIDTH, HEIGHT = 30.0, 640, 360
WAY = GaitParameters(belt_mps=2.7)
VIEW = demo_view(WIDTH, HEIGHT)
KNEE_M = 0.45
"""Just under the knee of the runner."""
_ENDS = VIEW.to_image(np.array([[-0.9, 0.0], [0.9, 0.0]])).tolist()
KNOWN = ViewProfile(
    "right",
    VIEW.px_per_m,
    ((_ENDS[0][0], _ENDS[0][1]), (_ENDS[1][0], _ENDS[1][1])),
    WIDTH,
    HEIGHT,
)
PROFILES = (KNOWN, ViewProfile())
CLEAR = PictureOptions()


@pytest.fixture(scope="module")
def model() -> Iterator[MediapipePose]:
    made = MediapipePose(threads=1)  # the same landmarks at every run
    yield made
    made.close()


@dataclass(frozen=True)
class Told:
    """All that the measurement told of one sequence."""

    seen: list[Observation]
    landings: list[Landing]
    steps: list[Step]

    @property
    def troubles(self) -> set[str | None]:
        return {o.trouble for o in self.seen}


def drawn(
    frames: int, options: PictureOptions = CLEAR, crop_m: float | None = None
) -> tuple[list[Frame], tuple[TrueStep, ...]]:
    source = SimulatedSource(
        Runner(WAY),
        demo_view(WIDTH, HEIGHT, crop_above_belt_m=crop_m),
        WIDTH,
        HEIGHT,
        FPS,
        frames / FPS,
        options,
    )
    source.start(StreamClock(), paced=False)
    shown = [frame for _ in range(frames) if (frame := source.receive(0.0)) is not None]
    assert len(shown) == frames
    truth = source.truth()
    source.stop()
    return shown, truth


def found(model: MediapipePose, frames: list[Frame]) -> list[Pose]:
    model.detect_anew()  # nothing is left of the test before
    return [model.find(frame) for frame in frames]


def told(poses: list[Pose], profile: ViewProfile) -> Told:
    meter = GaitMeter(profile, Belt(WAY.belt_mps))
    seen = [meter.push(pose) for pose in poses]
    steps = [step for o in [*seen, meter.finish()] for step in o.steps]
    return Told(seen, [landing for o in seen for landing in o.landings], steps)


def assert_true(landings: list[Landing], truth: tuple[TrueStep, ...]) -> None:
    """Each landing is one true contact of the same foot."""
    for landing in landings:
        near = min(truth, key=lambda t: abs(t.t_contact_s - landing.t_contact_s))
        assert abs(near.t_contact_s - landing.t_contact_s) < 0.040
        assert near.side == landing.side


def band(frames: list[Frame], from_y: int) -> list[Frame]:
    """Cover all below a row with black."""
    covered = []
    for frame in frames:
        image = frame.image.copy()
        image[from_y:] = 0
        covered.append(replace(frame, image=image))
    return covered


HIDDEN = {
    "aimed too high": lambda: drawn(36, crop_m=KNEE_M)[0],
    "a panel before the treadmill": lambda: drawn(36, PictureOptions(hide_below_m=KNEE_M))[0],
    "a panel at mid shank": lambda: drawn(36, PictureOptions(hide_below_m=0.30))[0],
    "a black band": lambda: band(drawn(36)[0], int(VIEW.to_image(np.array([0.0, KNEE_M]))[1])),
}


@pytest.mark.timeout(60)
@pytest.mark.parametrize("how", HIDDEN)
def test_hidden_lower_legs_give_no_contact_and_say_why(model: MediapipePose, how: str) -> None:
    poses = found(model, HIDDEN[how]())
    assert sum(pose.found for pose in poses) >= 30  # the model itself reports a whole body
    for profile in PROFILES:
        result = told(poses, profile)
        assert result.troubles == {"legs_hidden"}
        assert not any(o.in_view or o.detect_anew for o in result.seen)
        assert not result.landings
        assert not result.steps


@pytest.mark.timeout(60)
def test_an_empty_belt_gives_nothing(model: MediapipePose) -> None:
    frames, _ = drawn(30, PictureOptions(runner=False))
    poses = found(model, frames)
    for profile in PROFILES:
        result = told(poses, profile)
        assert "nobody" in result.troubles
        assert None not in result.troubles
        assert not result.landings
        assert not result.steps


@pytest.mark.timeout(60)
def test_twenty_blanked_frames_invent_no_contact_and_the_run_goes_on(
    model: MediapipePose,
) -> None:
    frames, truth = drawn(120)
    gone = range(50, 70)
    blank = np.full((HEIGHT, WIDTH, 3), 90, np.uint8)
    frames = [replace(f, image=blank) if f.index in gone else f for f in frames]
    result = told(found(model, frames), KNOWN)
    assert {o.trouble for o in result.seen[50:70]} == {"nobody"}
    assert_true(result.landings, truth)
    begin_s, end_s = gone.start / FPS, gone.stop / FPS
    assert not [m for m in result.landings if begin_s < m.t_contact_s < end_s]
    outside = [t for t in truth if not begin_s - 0.15 < t.t_contact_s < end_s + 0.15]
    outside = [t for t in outside if t.t_contact_s < 120 / FPS - 0.15]
    assert len(outside) >= 7
    for true in outside:  # found again within half a step
        assert any(abs(m.t_contact_s - true.t_contact_s) < 0.04 for m in result.landings)
    after = [m for m in result.landings if m.t_contact_s > end_s]
    assert after[0].step_time_s is None  # no step spans what was not seen


@pytest.mark.timeout(60)
@pytest.mark.parametrize(
    "options",
    [PictureOptions(exposure_s=1.0 / FPS), PictureOptions(light=0.25, noise=4.0)],
    ids=["shutter open for a whole frame", "dim and noisy"],
)
def test_a_bad_picture_gives_true_landings_or_none(
    model: MediapipePose, options: PictureOptions
) -> None:
    frames, truth = drawn(75, options)
    result = told(found(model, frames), KNOWN)
    assert_true(result.landings, truth)
    over = [t for t in truth if t.t_contact_s < 75 / FPS - 0.15]
    assert len(result.landings) <= len(over) + 1
    for landing in result.landings:
        near = min(truth, key=lambda t: abs(t.t_contact_s - landing.t_contact_s))
        assert landing.shank_deg is None or abs(landing.shank_deg - near.shank_deg) < 5.0


@pytest.mark.timeout(60)
def test_a_dark_and_noisy_picture_invents_no_contact(model: MediapipePose) -> None:
    """The model reports a whole body, well visible; its legs jump about."""
    frames, truth = drawn(45, PictureOptions(light=0.15, noise=9.0))
    poses = found(model, frames)
    assert sum(pose.found for pose in poses) > 40
    result = told(poses, KNOWN)
    for landing in result.landings:  # as the benches call a contact invented
        assert min(abs(t.t_contact_s - landing.t_contact_s) for t in truth) < 0.080
    assert "legs_hidden" in result.troubles
