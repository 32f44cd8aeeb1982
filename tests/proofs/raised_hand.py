"""Prove that a raised hand is seen in time, and that running arms never are one, on real pixels.

A drawn runner goes through the real pose model. First each hand is raised, near and far, both
facings, several heights: with the elbow bent, as the station asks for it, and stretched. Then
minutes of running arms: hips to chin, pumping, still, and hands that wipe the brow. Once a second
the second look (is somebody else in view?) is taken at the same pictures: nobody else is.

    python tests/proofs/raised_hand.py [--minutes 10] [--fps 30] [--part both|hands|arms]
        [--begin 0]

`--begin` leaves out so many minutes: the rest is run on another core, or was run before.
Prints one JSON line; exits 1 where a bound does not hold, 3 where the machine lacks what is needed.
A stretched arm that leaves the picture is told, not judged: that is why the elbow is to be bent.
"""

from __future__ import annotations

# First of all: it keeps numpy to one thread, as in `station run`.
import station  # noqa: F401

# isort: split

import json
import sys
from dataclasses import dataclass

from kit.running import options

from station.coach.visit.raised_hand import RaisedHand
from station.errors import StationError
from station.see.pose_model import MediapipePose
from station.see.second_look import SecondLook
from station.simulate.arms import ARM_SWINGS, AT_BROW, BENT, STRETCHED
from station.simulate.gait import Runner
from station.simulate.parameters import GaitParameters
from station.simulate.picture import Painter, demo_view
from station.simulate.staging import StagedRunner
from station.values import Facing, Frame, Side

SEEN_WITHIN_S = 1.5
SIZE = 960, 540
SEGMENT_S = 30.0
FACES: tuple[Facing, Facing] = ("right", "left")
HEIGHTS_M = (1.55, 1.75, 1.95)
PACES = ((2.4, 160.0), (2.9, 168.0), (3.5, 176.0), (4.2, 184.0))
UP_S = 1.5
"""When the hand goes up."""
MOST_S = 5.0
BROW_EVERY_S, BROW_FOR_S = 8.0, 1.5


@dataclass
class Stage:
    """One runner before one camera, through the pose model."""

    faces: Facing
    runner: StagedRunner
    model: MediapipePose
    fps: float

    def __post_init__(self) -> None:
        self.painter = Painter(demo_view(*SIZE, self.faces), *SIZE)
        self.model.detect_anew()
        self.index = 0

    def next(self) -> tuple[Frame, object]:
        t_s = self.index / self.fps
        frame = Frame(t_s, self.index, self.painter.paint(self.runner.figure_at(t_s)))
        self.index += 1
        return frame, self.model.find(frame)


def staged(height_m: float, pace: tuple[float, float], seed: int) -> StagedRunner:
    gait = GaitParameters(belt_mps=pace[0], rate_spm=pace[1], height_m=height_m, seed=seed)
    runner = StagedRunner(lambda: Runner(gait))
    runner.act("run")
    return runner


def seen_after_s(
    model: MediapipePose, fps: float, faces: Facing, side: Side, height_m: float, bent: bool
) -> float | None:
    """Return how long after it is above the head a hand is seen; None: not in `MOST_S`."""
    runner, hand = staged(height_m, PACES[1], 1), RaisedHand()
    stage = Stage(faces, runner, model, fps)
    for i in range(round((UP_S + MOST_S) * fps)):
        if i == round(UP_S * fps):
            runner.raise_hand(side, BENT if bent else STRETCHED)
        frame, pose = stage.next()
        if hand.take(pose):  # type: ignore[arg-type]
            above_s = runner.hand_above_s
            return -1.0 if above_s is None else frame.t_s - above_s
    return None


def raised(model: MediapipePose, fps: float) -> dict[str, dict[str, float | None]]:
    """Raise every hand in every way; return after how long each was seen."""
    found: dict[str, dict[str, float | None]] = {}
    for bent in (True, False):
        for faces in FACES:
            for side in ("left", "right"):
                which = "near" if side == faces else "far"
                for height_m in HEIGHTS_M:
                    after = seen_after_s(model, fps, faces, side, height_m, bent)
                    kind = f"{'bent' if bent else 'stretched'}_{which}"
                    at = f"faces_{faces}_{height_m:g}_m"
                    found.setdefault(kind, {})[at] = None if after is None else round(after, 2)
    return found


def running_arms(
    model: MediapipePose, look: SecondLook, fps: float, minutes: float, begin: float
) -> dict[str, object]:
    """Run with arms of all kinds; return what was taken for a sign, and for a second person."""
    ways = [*ARM_SWINGS, "brow"]
    signs: list[str] = []
    frames = looks = others = 0
    for number in range(round(60.0 * begin / SEGMENT_S), round(60.0 * minutes / SEGMENT_S)):
        way, faces = ways[number % len(ways)], FACES[number % 2]
        height_m = HEIGHTS_M[(number // 2) % len(HEIGHTS_M)]
        runner = staged(height_m, PACES[number % len(PACES)], number)
        runner.swing_arms(ARM_SWINGS.get(way))
        stage, hand = Stage(faces, runner, model, fps), RaisedHand()
        for i in range(round(SEGMENT_S * fps)):
            t_s = i / fps
            if way == "brow":
                wiping = t_s % BROW_EVERY_S < BROW_FOR_S
                side: Side = "left" if t_s // BROW_EVERY_S % 2 else "right"
                runner.raise_hand(side if wiping else None, AT_BROW)
            frame, pose = stage.next()
            frames += 1
            if hand.take(pose):  # type: ignore[arg-type]
                signs.append(f"{way}, {height_m:g} m, faces {faces}, at {t_s:.1f} s")
            if i % round(fps) == 0:
                looks += 1
                others += look.look(frame, pose)  # type: ignore[arg-type]
        told = f"{(number + 1) * SEGMENT_S / 60.0:g} min: {len(signs)} signs, {others} others"
        print(told, file=sys.stderr, flush=True)
    return {
        "minutes": round(frames / fps / 60.0, 2),
        "taken_for_a_sign": signs,
        "second_looks": looks,
        "taken_for_a_second_person": others,
    }


def main() -> int:
    """Run the proof; return the exit code."""
    asked = options(
        "Raised hands and running arms.",
        minutes=10.0, fps=30.0, begin=0.0, part=("both", "hands", "arms"),
    )  # fmt: skip
    try:
        model, look = MediapipePose(threads=1), SecondLook()
    except StationError as fault:
        print(fault, file=sys.stderr)
        return 3
    told: dict[str, object] = {"proof": "raised_hand", "holds": True, "fps": asked.fps}
    if asked.part != "arms":
        told["seen_after_s"] = hands = raised(model, asked.fps)
        bent = [s for kind in ("bent_near", "bent_far") for s in hands[kind].values()]
        told["holds"] = all(s is not None and 0.0 <= s <= SEEN_WITHIN_S for s in bent)
    if asked.part != "hands":
        arms = running_arms(model, look, asked.fps, asked.minutes, asked.begin)
        told.update(arms)
        quiet = not arms["taken_for_a_sign"] and not arms["taken_for_a_second_person"]
        told["holds"] = told["holds"] and quiet
    look.close()
    model.close()
    print(json.dumps(told))
    return 0 if told["holds"] else 1


if __name__ == "__main__":
    sys.exit(main())
