"""Accuracy of the whole way from pixels: the drawn demo runner and the rendered clip.

    python tests/bench/bench_pixels.py [--seconds 50] [--poses FOLDER]

Every frame goes through the real pose model and the measurement as the station runs them; the
truth of every frame is known. Named legs are compared with the true ones before and after repair,
in the frames in which the true ankles are apart. Prints a table and one JSON line. With `--poses`
the model's poses are kept in that folder and read from it the next time (the model is not run).
"""

from __future__ import annotations

import argparse
import json
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from station.bench.clip import clip_frames, read_clip
from station.bench.pixels import find_poses
from station.bench.score import agreement, match
from station.clock import StreamClock
from station.commands.simulated import demo_bay, demo_scenario
from station.measure import GaitMeter
from station.ports import EndOfStream
from station.simulate.gait import Runner
from station.simulate.listening import Listening, ListeningParameters
from station.simulate.parameters import GaitParameters
from station.simulate.picture import PictureOptions, demo_view
from station.simulate.source import SimulatedSource
from station.values import (
    LEG_INDEX,
    LEG_PARTS,
    Belt,
    Floats,
    Frame,
    Heard,
    Observation,
    Pose,
    TrueStep,
    ViewProfile,
)

APART = 0.15
"""True ankles nearer than this, in leg lengths, tell no leg from the other."""
LEGS = np.array([LEG_INDEX["left"], LEG_INDEX["right"]])


@dataclass
class Recording:
    """What the model saw, beside what was there."""

    name: str
    t_s: Floats
    xy_px: Floats
    visibility: Floats
    legs_px: Floats
    """(n, 2, 5, 2) true joints: left, right."""
    contacts: list[TrueStep]
    profile: ViewProfile
    belt: Belt
    size: tuple[int, int]
    anew: int = 0


# --- the two sources ----------------------------------------------------------------------------


def demo_runner() -> Runner:
    """Build the demo's runner, who hears a beat and a cue at times fixed beforehand."""
    scene = demo_scenario()
    way = GaitParameters(
        belt_mps=scene.belt_mps,
        rate_spm=scene.step_rate_spm,
        shank_deg=scene.shank_deg,
        foot_deg=scene.foot_deg,
        height_m=scene.height_m,
        seed=scene.seed,
    )
    runner = Runner(way, Listening(ListeningParameters(seed=scene.seed)))
    period_s = 60.0 / 174.0
    for i in range(600):
        runner.hear(Heard("beat", 18.0 + i * period_s, None, period_s))
    for i in range(100):
        runner.hear(Heard("ahead", 10.0 + 0.8 * i, "left" if i % 2 else "right"))
    return runner


def demo_frames(seconds: float) -> Iterator[tuple[Frame, Floats]]:
    """Yield the demo's pictures with the true legs; the same runner twice, shown and asked."""
    scene, twin = demo_scenario(), demo_runner()
    view = demo_view(scene.width, scene.height, scene.faces)
    source = SimulatedSource(
        demo_runner(),
        view,
        scene.width,
        scene.height,
        scene.fps,
        seconds,
        PictureOptions(exposure_s=scene.exposure_s),
    )
    source.start(StreamClock(), paced=False)
    try:
        while True:
            frame = source.receive(0.0)
            assert frame is not None
            legs = twin.figure_at(frame.t_s).legs
            yield frame, view.to_image(true_legs(legs))
    except EndOfStream:
        source.stop()


def true_legs(legs: dict) -> Floats:
    """Return (2, 5, 2) joints of a figure's legs, bay frame."""
    return np.array(
        [
            [getattr(legs[side], part if part != "foot_index" else "toe") for part in LEG_PARTS]
            for side in ("left", "right")
        ]
    )


def clip_legs(path: Path) -> Floats:
    """Read (n, 2, 5, 2) projected true legs of the clip's frames."""
    parts = ("hip", "knee", "ankle", "heel", "toe")
    with np.load(path.with_name("ff_25_60_landmarks.npz")) as marks:
        return np.stack([np.stack([marks[s + part] for part in parts], 1) for s in "LR"], axis=1)


# --- recording ----------------------------------------------------------------------------------


def recorded(
    name: str,
    frames: Iterator[tuple[Frame, Floats]],
    profile: ViewProfile,
    belt: Belt,
    folder: Path | None,
) -> Recording:
    """Run the model over the frames, detecting anew when the measurement asks for it."""
    kept = None if folder is None else folder / f"{name}.npz"
    if kept is not None and kept.is_file():
        with np.load(kept) as told:
            return Recording(
                name, told["t"], told["xy"], told["visibility"], told["legs"], [], profile, belt,
                (int(told["size"][0]), int(told["size"][1])), int(told["anew"]),
            )  # fmt: skip
    legs: list[Floats] = []

    def pictures() -> Iterator[Frame]:
        for frame, true in frames:
            legs.append(true)
            yield frame

    found = find_poses(pictures(), profile, belt)
    recording = Recording(
        name,
        np.array([p.t_s for p in found.poses]),
        np.stack([p.xy_px for p in found.poses]),
        np.stack([p.visibility for p in found.poses]),
        np.stack(legs),
        [],
        profile,
        belt,
        (found.poses[0].width, found.poses[0].height),
        found.anew,
    )
    if kept is not None:
        kept.parent.mkdir(parents=True, exist_ok=True)
        np.savez(
            kept, t=recording.t_s, xy=recording.xy_px, visibility=recording.visibility,
            legs=recording.legs_px, size=recording.size, anew=recording.anew,
        )  # fmt: skip
    return recording


def demo(seconds: float, folder: Path | None) -> Recording:
    """Record the demo."""
    scene = demo_scenario()
    frames = demo_frames(seconds)
    recording = recorded(
        f"demo-{seconds:g}", frames, demo_bay(scene).view, Belt(scene.belt_mps), folder
    )
    runner = demo_runner()
    runner.figure_at(seconds)
    recording.contacts = list(runner.truth())
    return recording


def clip(path: Path, folder: Path | None) -> Recording:
    """Record the clip; contacts as the drawn shoe reaches the belt."""
    told = read_clip(path)
    frames = zip(clip_frames(path), clip_legs(path), strict=True)
    recording = recorded("clip", frames, told.profile, told.belt, folder)
    recording.contacts = list(told.contacts)
    return recording


# --- judging ------------------------------------------------------------------------------------


def wrong_legs(found: Floats, true: Floats) -> tuple[float, float]:
    """Return the shares of frames with the whole leg and with any part of it on the other leg.

    Args:
        found: (n, 2, 5, 2) legs as named.
        true: (n, 2, 5, 2) legs.

    Returns:
        Of the frames with the ankles apart: share with ankle, heel and toe together nearer to the
        other leg's; share with knee or foot nearer to the other leg's.
    """
    leg = np.median(
        np.linalg.norm(true[:, :, 1] - true[:, :, 0], axis=-1)
        + np.linalg.norm(true[:, :, 2] - true[:, :, 1], axis=-1)
    )
    crossed = []
    told = []
    for parts in (slice(2, 5), slice(1, 2)):
        here, there = found[:, :, parts], true[:, :, parts]
        known = np.isfinite(here).all(axis=(1, 2, 3))
        straight = np.linalg.norm(here - there, axis=-1).sum(axis=(1, 2))
        across = np.linalg.norm(here - there[:, ::-1], axis=-1).sum(axis=(1, 2))
        apart = np.linalg.norm(there[:, 0] - there[:, 1], axis=-1).mean(axis=1) > APART * leg
        told.append(known & apart)
        crossed.append(told[-1] & (across < straight))
    foot = float(crossed[0].sum() / max(told[0].sum(), 1))
    either = (crossed[0] | crossed[1]).sum() / max((told[0] | told[1]).sum(), 1)
    return foot, float(either)


def judged(recording: Recording) -> dict[str, object]:
    """Measure the recording and compare it with its truth."""
    meter = GaitMeter(recording.profile, recording.belt)
    seen: list[Observation] = []
    for i, t_s in enumerate(recording.t_s):
        pose = Pose(float(t_s), i, recording.xy_px[i], recording.visibility[i], *recording.size)
        seen.append(meter.push(pose))
    steps = [step for o in [*seen, meter.finish()] for step in o.steps]
    end_s = float(recording.t_s[-1])
    found = match(steps, recording.contacts, 0.0, end_s - 0.12)
    pairs = [(pair.step, pair.true) for pair in found.pairs]

    def shank(near: bool | None) -> list[float | None]:
        return spread(
            [
                s.shank_deg - t.shank_deg
                for s, t in pairs
                if s.shank_deg is not None and near in (None, s.near)
            ]
        )

    right = agreement(pairs)
    after = np.stack([o.pose.xy_px for o in seen])[:, LEGS]
    before = recording.xy_px[:, LEGS]
    return {
        "recording": recording.name,
        "frames": len(seen),
        "contacts": len(found.true),
        "missed": [round(t.t_contact_s, 2) for t in found.missed],
        "invented": [round(s.t_contact_s, 2) for s in found.invented],
        "wrong side": sum(s.side != t.side for s, t in pairs),
        "contact ms": spread([1000.0 * (s.t_contact_s - t.t_contact_s) for s, t in pairs]),
        "toe-off ms": spread(
            [1000.0 * (s.t_toe_off_s - t.t_toe_off_s) for s, t in pairs if s.t_toe_off_s]
        ),
        "shank deg": shank(None),
        "shank deg near": shank(True),
        "shank deg far": shank(False),
        "right verdicts": None if right is None else round(right, 4),
        "wrong legs before": shares(wrong_legs(before, recording.legs_px)),
        "wrong legs after": shares(wrong_legs(after, recording.legs_px)),
        "trouble": dict(Counter(o.trouble or "none" for o in seen)),
        "detected anew": recording.anew,
    }


def spread(values: list[float]) -> list[float | None]:
    """Return median and standard deviation."""
    if not values:
        return [None, None]
    return [round(float(np.median(values)), 2), round(float(np.std(values)), 2)]


def shares(both: tuple[float, float]) -> dict[str, float]:
    """Name the two shares of `wrong_legs`."""
    return {"feet": round(both[0], 4), "any part": round(both[1], 4)}


def main() -> int:
    """Print the table and the JSON line."""
    ask = argparse.ArgumentParser(description="Accuracy of the whole way from pixels.")
    ask.add_argument("--seconds", type=float, default=50.0, help="of the demo (default 50)")
    ask.add_argument("--poses", type=Path, help="folder that keeps the model's poses")
    given = ask.parse_args()
    recordings = [demo(given.seconds, given.poses)]
    path = Path(__file__).parents[2].parent / "shared" / "data" / "clips" / "ff_25_60.mp4"
    if path.is_file():
        recordings.append(clip(path, given.poses))
    else:
        print("the rendered clip is not there: left out")
    rows = [judged(recording) for recording in recordings]
    for row in rows:
        print("\n".join(f"  {key}: {value}" for key, value in row.items()), end="\n\n")
    print(json.dumps({"bench": "pixels", "rows": rows}))
    return 0


if __name__ == "__main__":
    sys.exit(main())
