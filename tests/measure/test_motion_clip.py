"""The measurement on motion-captured running and walking that a registry package carries.

`pybullet_data` (in the pybullet 3.2.7 wheel, zlib licence) holds one stride of each at 30 frames
per second. Rates, lengths, speed and symmetry follow from the clip's own numbers; angles at the
contact do not, for the running clip jumps there from its last frame to its first.
"""

from __future__ import annotations

import json
import xml.etree.ElementTree as ElementTree
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from scipy.spatial.transform import Rotation, Slerp

from station.measure import GaitMeter
from station.simulate.trace import add_noise
from station.values import (
    LANDMARK_INDEX,
    Belt,
    Floats,
    Landing,
    Observation,
    Pose,
    Step,
    View,
    ViewProfile,
)

pybullet_data = pytest.importorskip(
    "pybullet_data", reason="the motion clips come with pybullet, which is not installed here"
)
FOLDER = Path(pybullet_data.getDataPath())
VIEW = View(300.0, "right", (640.0, 640.0))
FULL_SIZE = 0.25
"""The model's lengths in metres per unit of its description."""
SECONDS = 10.0
# Where each joint's numbers stand in a frame: rotations are quaternions, w first.
ROTATIONS = {
    "root": 4, "chest": 8, "neck": 12,
    "right_hip": 16, "right_ankle": 21, "right_shoulder": 25,
    "left_hip": 30, "left_ankle": 35, "left_shoulder": 39,
}  # fmt: skip
HINGES = {"right_knee": 20, "right_elbow": 29, "left_knee": 34, "left_elbow": 43}
PARENTS = {"chest": "root", "neck": "chest"}
for _side in ("left", "right"):
    PARENTS |= {
        f"{_side}_hip": "root", f"{_side}_knee": f"{_side}_hip",
        f"{_side}_ankle": f"{_side}_knee", f"{_side}_shoulder": "chest",
        f"{_side}_elbow": f"{_side}_shoulder", f"{_side}_wrist": f"{_side}_elbow",
    }  # fmt: skip


@dataclass(frozen=True)
class Clip:
    """One stride; x forward, y up, z to the right, metres."""

    frame_s: float
    frames: Floats
    """(n, 44), the next stride's first one left out."""
    travel_m: float

    @property
    def stride_s(self) -> float:
        return len(self.frames) * self.frame_s

    @property
    def speed_mps(self) -> float:
        return self.travel_m / self.stride_s

    @property
    def rate_spm(self) -> float:
        return 120.0 / self.stride_s


@dataclass(frozen=True)
class Model:
    """The body that the clips move."""

    joints: dict[str, Floats]
    """Each joint's place on its parent, metres."""
    heel: Floats
    """Lower rear edge of the foot's box, from the ankle."""
    toe: Floats


def read_clip(name: str) -> Clip:
    numbers = json.loads((FOLDER / "data" / "motions" / f"humanoid3d_{name}.txt").read_text())
    frames = np.array(numbers["Frames"])
    assert frames.shape[1] == 44
    return Clip(float(frames[0, 0]), frames[:-1], float(frames[-1, 1] - frames[0, 1]))


@cache
def model() -> Model:
    text = (FOLDER / "humanoid" / "humanoid.urdf").read_text(encoding="ascii")
    tree = ElementTree.fromstring(text.rstrip("\0 \r\n"))  # the file ends with a zero byte

    def numbers(element: ElementTree.Element | None, key: str) -> Floats:
        assert element is not None
        return FULL_SIZE * np.array([float(x) for x in element.attrib[key].split()])

    joints = {}
    for joint in tree.iter("joint"):
        joints[joint.attrib["name"]] = numbers(joint.find("origin"), "xyz")
    foot = tree.find("link[@name='right_ankle']/collision")
    assert foot is not None
    size = numbers(foot.find("geometry/box"), "size")
    sole = numbers(foot.find("origin"), "xyz") - [0.0, 0.5 * size[1], 0.0]
    half = np.array([0.5 * size[0], 0.0, 0.0])
    return Model(joints, sole - half, sole + half)


def places(clip: Clip, times_s: Floats) -> dict[str, Floats]:
    """Work out where every joint is, stride after stride, on a belt of the clip's own speed."""
    body = model()
    n = len(clip.frames)
    phase = np.mod(times_s / clip.frame_s, n)
    ring = np.concatenate([clip.frames, clip.frames[:1]])
    knots = np.arange(n + 1.0)
    turned: dict[str, Rotation] = {}
    for name, at in ROTATIONS.items():
        turned[name] = Slerp(knots, Rotation.from_quat(np.roll(ring[:, at : at + 4], -1, 1)))(phase)
    for name, at in HINGES.items():
        turned[name] = Rotation.from_euler("z", np.interp(phase, knots, ring[:, at])[:, None])
    ring[-1, 1] += clip.travel_m
    root = np.stack([np.interp(phase, knots, ring[:, 1 + k]) for k in range(3)], axis=1)
    root[:, 0] -= clip.speed_mps * phase * clip.frame_s  # as seen from beside the treadmill
    place, facing = {"root": root}, {"root": turned["root"]}
    for name, parent in PARENTS.items():
        place[name] = place[parent] + facing[parent].apply(body.joints[name])
        facing[name] = facing[parent] * turned[name] if name in turned else facing[parent]
    for side in ("left", "right"):
        for part, offset in (("heel", body.heel), ("foot_index", body.toe)):
            ankle = f"{side}_ankle"
            place[f"{side}_{part}"] = place[ankle] + facing[ankle].apply(offset)
    place["nose"] = place["neck"] + facing["neck"].apply([0.1, 0.17, 0.0])
    return place


def side_poses(clip: Clip, fps: float) -> list[Pose]:
    times = np.arange(round(SECONDS * fps)) / fps
    xy = np.full((len(times), 33, 2), np.nan)
    for name, xyz in places(clip, times).items():
        if name in LANDMARK_INDEX:
            xy[:, LANDMARK_INDEX[name]] = VIEW.to_image(xyz[:, :2])
    seen = np.where(np.isfinite(xy[0]).all(axis=1), 0.95, np.nan)
    return [Pose(float(t), i, xy[i], seen, 1280, 720) for i, t in enumerate(times)]


@dataclass(frozen=True)
class Told:
    seen: list[Observation]
    landings: list[Landing]
    steps: list[Step]


@cache
def measured(name: str, fps: float, profile: ViewProfile, noise_m: float, seed: int = 1) -> Told:
    clip = read_clip(name)
    meter = GaitMeter(profile, Belt(clip.speed_mps))
    noisy = add_noise(side_poses(clip, fps), noise_m, VIEW.px_per_m, seed)
    seen = [meter.push(pose) for pose in noisy]
    landings = [landing for o in seen for landing in o.landings]
    return Told(seen, landings, [step for o in [*seen, meter.finish()] for step in o.steps])


KNOWN_VIEW = ViewProfile("right", 300.0, ((240.0, 640.0), (1040.0, 640.0)), 1280, 720)


def test_the_clips_are_the_ones_whose_values_are_known() -> None:
    run, walk = read_clip("run"), read_clip("walk")
    # Worked out from the files of pybullet 3.2.7.
    assert run.speed_mps == pytest.approx(3.556942, abs=1e-6)
    assert run.rate_spm == pytest.approx(150.006, abs=1e-3)
    assert walk.speed_mps == pytest.approx(0.977873, abs=1e-6)
    assert walk.rate_spm == pytest.approx(94.741, abs=1e-3)
    lengths = {name: float(np.linalg.norm(at)) for name, at in model().joints.items()}
    assert lengths["left_knee"] == pytest.approx(0.421546, abs=1e-6)  # thigh
    assert lengths["left_ankle"] == pytest.approx(0.409870, abs=1e-6)  # shank
    assert lengths["left_hip"] == pytest.approx(0.084887, abs=1e-6)


@pytest.mark.parametrize(
    ("fps", "profile", "noise_m"),
    [
        (60.0, KNOWN_VIEW, 0.0),
        (60.0, KNOWN_VIEW, 0.010),
        (60.0, ViewProfile(), 0.0),
        (30.0, ViewProfile(), 0.0),
    ],
    ids=["set up", "noisy", "learned", "learned, 30 fps"],
)
def test_running_has_the_clip_s_own_rhythm(
    fps: float, profile: ViewProfile, noise_m: float
) -> None:
    told = measured("run", fps, profile, noise_m)
    seen, steps = told.seen, told.steps
    step_s = 0.5 * read_clip("run").stride_s
    times = np.array([s.t_contact_s for s in steps])
    # None missed, none invented. Without a profile the first steps show the belt's speed.
    assert times[0] < (step_s if profile is KNOWN_VIEW else 2.0)
    assert times[-1] > SECONDS - 2.0 * step_s
    assert np.diff(times) == pytest.approx(step_s, abs=0.045)
    assert all(a.side != b.side for a, b in pairwise(steps))
    # A median of 23 noisy steps scatters by 0.25 spm itself: one seed in eight is beyond the bound.
    seeds = range(1, 9) if noise_m else (1,)
    all_steps = [
        step for seed in seeds for step in measured("run", fps, profile, noise_m, seed).steps
    ]
    rates = [s.step_rate_spm for s in all_steps if s.step_rate_spm is not None]
    assert np.median(rates) == pytest.approx(150.006, abs=0.3)
    # Over the first stances the touch is still being learned; then stride after stride is alike.
    settled = times[8:]
    strides = (len(settled) - 1) // 2
    assert 120.0 * strides / (settled[2 * strides] - settled[0]) == pytest.approx(150.006, abs=0.3)
    shown = [o.step_rate_spm for o in seen if o.step_rate_spm and o.t_s > settled[0] + 8 * step_s]
    assert np.median(shown) == pytest.approx(150.006, abs=0.3)
    lengths = np.array([s.step_length_m for s in steps if s.step_length_m is not None])
    assert lengths == pytest.approx(1.42272, rel=0.045 / step_s)
    assert np.mean(lengths) == pytest.approx(1.42272, rel=0.01)
    assert seen[-1].gait == "running"


def test_the_picture_s_scale_is_learned_from_the_belt() -> None:
    view = measured("run", 60.0, ViewProfile(), 0.0).seen[-1].view
    assert view is not None
    assert view.faces == "right"
    # The clip's feet slide a little on the ground, so this is wider than on a real belt.
    assert view.px_per_m == pytest.approx(VIEW.px_per_m, rel=0.10)


def test_both_legs_of_the_mirrored_clip_are_measured_alike() -> None:
    settled = measured("run", 60.0, KNOWN_VIEW, 0.0).steps[6:]
    for value in ("contact_s", "duty_factor", "foot_deg", "shank_deg", "knee_flexion_deg"):
        legs = [
            float(np.median([v for s in settled if s.side == side and (v := getattr(s, value))]))
            for side in ("left", "right")
        ]
        assert legs[0] == pytest.approx(legs[1], rel=0.1, abs=1.0), value


def test_running_is_running_by_its_duty_factor() -> None:
    """Duty factor under one half, flight over 0: Patoz 2022, Sci Rep s41598-022-17274-0."""
    steps = measured("run", 60.0, KNOWN_VIEW, 0.0).steps
    told = [s for s in steps if s.flight_s is not None and s.duty_factor is not None]
    assert len(told) >= len(steps) - 4
    assert all(s.flight_s > 0.0 and s.duty_factor < 0.5 for s in told)


@pytest.mark.parametrize(
    ("fps", "profile", "noise_m"),
    [(60.0, KNOWN_VIEW, 0.0), (60.0, KNOWN_VIEW, 0.010), (30.0, ViewProfile(), 0.0)],
    ids=["set up", "noisy", "learned, 30 fps"],
)
def test_walking_is_named_and_its_verdicts_are_withheld(
    fps: float, profile: ViewProfile, noise_m: float
) -> None:
    """In the walking clip the feet are never both off the ground."""
    told = measured("walk", fps, profile, noise_m)
    step_s = 60.0 / 94.741
    named_s = next(o.t_s for o in told.seen if o.gait == "walking")
    assert named_s < told.landings[0].t_contact_s + 5.0 * step_s
    later = [o for o in told.seen if o.t_s >= named_s]
    assert {o.gait for o in later} == {"walking"}
    assert {o.trouble for o in later} == {"walking"}
    after = [landing for landing in told.landings if landing.t_verdict_s > named_s]
    assert len(after) >= 5
    assert all(landing.shank_deg is None and landing.confidence == 0.0 for landing in after)
    assert not {o.gait for o in told.seen} & {"running"}


def test_walking_has_the_clip_s_own_rhythm() -> None:
    told = measured("walk", 60.0, KNOWN_VIEW, 0.0)
    times = np.array([landing.t_contact_s for landing in told.landings])
    assert np.diff(times) == pytest.approx(60.0 / 94.741, abs=0.03)
    assert told.seen[-1].step_rate_spm == pytest.approx(94.741, abs=0.3)


def test_running_is_never_taken_for_walking() -> None:
    assert {o.gait for o in measured("run", 60.0, KNOWN_VIEW, 0.010).seen} <= {"running", "unknown"}
