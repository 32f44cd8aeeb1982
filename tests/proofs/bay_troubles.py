"""Prove on real pixels that each trouble of an unattended visit has its defined, calm answer.

The bay's real loop and the real pose model, stream time, as fast as it goes; only runner, bystander
and whoever sets the belt are staged. One after the other: somebody who faces the wrong way, or is
not alone, before the start; a belt that nobody sets; somebody else behind the belt; a runner who
walks; a lens that goes dark. Then the same belt, set: it must not be said to be unchanged.

    python tests/proofs/bay_troubles.py [--fps 24] [--out DIR]
        [--only facing belt session walk belt-set]

Prints one JSON line; exits 1 where an answer is missing, late or too loud, 3 where the machine
lacks what is needed. Pictures of the screens go to `--out`, `out/proof-troubles` without it.
"""

from __future__ import annotations

# First of all: it keeps numpy to one thread, as in `station run`.
import station  # noqa: F401

# isort: split

import argparse
import json
import sys
import tempfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np

from station.clock import StreamClock
from station.coach.plan import Drill, Plan
from station.coach.scene import Rhythm, Scene
from station.coach.visit.course import VisitChange
from station.coach.visit.page import Page
from station.commands import bay_visits
from station.commands.bay_visits import BayParts, BayVisits, StoreBook
from station.errors import StationError
from station.keep import make_place
from station.keep.store import Records
from station.live import LockStepFeed, Screen, StopWish
from station.live.bay.looks import LooksAtOnce
from station.live.bay.loop import BayLoop, BaySettings
from station.live.bay.ports import BayInput
from station.see.pose_model import MediapipePose
from station.see.second_look import SecondLook
from station.settings import read_words
from station.show.painter import Painter
from station.show.visit_page import VisitPainter
from station.simulate.figure import Figure
from station.simulate.gait import Runner
from station.simulate.parameters import Body, GaitParameters
from station.simulate.picture import demo_view
from station.simulate.source import SimulatedSource
from station.simulate.staging import StagedRunner, moved, standing
from station.simulate.walking import Walker
from station.sound.speaker_silent import StreamSpeaker
from station.values import Bay, Facing, Frame, ViewProfile

WIDTH, HEIGHT = 960, 540
MPS, FASTER_MPS = 2.7, 3.1
STAFF = "2468"
BEHIND_M = -1.4
PLAN = Plan(
    "Troubles",
    (
        Drill("As you are", belt_speed_mps=MPS, belt_speed_text="2.7 m/s", seconds=12.0),
        Drill("Quicker", belt_speed_mps=FASTER_MPS, belt_speed_text="3.1 m/s", seconds=240.0),
    ),
)
LONG = Plan("Troubles", (replace(PLAN.drills[0], seconds=240.0),))
SLOW = Plan("Troubles", (replace(LONG.drills[0], belt_speed_mps=1.3, belt_speed_text="1.3 m/s"),))
PARTS = ("facing", "belt", "session", "walk", "belt-set")
TO_STAND = ["Enter", *"R-07", "Enter", "Enter", *"1234", "0"]


class Stood(StagedRunner):
    """A staged runner whose belt nobody sets, unless it is wanted."""

    follows = False

    def set_belt(self, speed_mps: float) -> None:
        if self.follows:
            super().set_belt(speed_mps)


class Lens:
    """The staged picture, through a lens that can be covered."""

    def __init__(self, source: SimulatedSource) -> None:
        self._source = source
        self.covered = False
        self.start, self.stop = source.start, source.stop
        self.hear, self.ask_belt = source.hear, source.ask_belt

    def receive(self, timeout_s: float) -> Frame | None:
        frame = self._source.receive(timeout_s)
        if frame is None or not self.covered:
            return frame
        return Frame(frame.t_s, frame.index, np.full_like(frame.image, 9))


class StagedBay:
    """One bay on stream time; its screen is painted only where a picture is wanted."""

    def __init__(self, models: tuple[MediapipePose, SecondLook], fps: float, out: Path,
                 faces: Facing = "right", plan: Plan = PLAN) -> None:  # fmt: skip
        self.out = out
        self.fps = fps
        self.others: tuple[Figure, ...] = ()
        self.walks = False
        self.pressed: list[str] = []
        self.log: list[VisitChange] = []
        self.calls: list[bool] = []
        self.page: Page | None = None
        self.scene: Scene | None = None
        self.scenes = Screen(self)  # type: ignore[arg-type]
        words = read_words("en")
        self._painters = VisitPainter(1280, 720, words), Painter(1280, 720, words)
        gait = GaitParameters(belt_mps=MPS, rate_spm=165.0, wander_m=0.02)
        self.runner = Stood(lambda: Walker() if self.walks else Runner(gait))  # type: ignore[arg-type, return-value]
        view = demo_view(WIDTH, HEIGHT, faces)
        source = SimulatedSource(
            self.runner, view, WIDTH, HEIGHT, fps, name="staged", others=lambda _: self.others
        )
        self.lens = Lens(source)
        self.clock = StreamClock()
        self.speaker = StreamSpeaker()
        self.speaker.start(self.clock)
        self.speaker.call_staff = self.calls.append  # type: ignore[attr-defined]
        models[0].detect_anew()
        self.feed = LockStepFeed(self.lens, models[0], self.clock)  # type: ignore[arg-type]
        info = self.feed.start(self.clock)
        belt_y = view.origin_px[1]
        profile = ViewProfile(
            "right", view.px_per_m, ((200.0, belt_y), (760.0, belt_y)), WIDTH, HEIGHT
        )
        bay = Bay(view=profile, staff_code=STAFF)
        folder = Path(tempfile.mkdtemp(dir=out))  # whoever comes has never been here
        place = make_place(str(folder / "records"))
        with Records(place) as records:
            records.change_runner("R-07", belt_cap_mps=3.5)
        parts = BayParts(
            bay, place, words, self.feed, self.speaker, self.clock, info, "demo", self.lens,
            folder / "visits", lambda line: None,
        )  # fmt: skip
        rear = view.to_image(np.array([[-0.95, 0.0]]))[0]
        settings = BaySettings(plan, STAFF, 4.4, (float(rear[0]), float(rear[1])), "right")
        self.loop = BayLoop(
            settings, self.feed, self, self.speaker, self.clock,  # type: ignore[arg-type]
            StoreBook(place, lambda line: None), BayVisits(parts), self.log.append,
            LooksAtOnce(models[1]),
        )  # fmt: skip
        self.stop = StopWish()

    # --- the screen
    def inputs(self) -> tuple[BayInput, ...]:
        return (BayInput(face=self.pressed.pop(0)),) if self.pressed else ()

    def show_page(self, page: Page, picture: np.ndarray | None) -> None:
        self.page, self._picture = page, picture

    def paint(self, scene: Scene) -> np.ndarray:
        self.scene = scene
        return np.zeros((72, 128, 3), np.uint8)

    def pulse(self, rhythm: Rhythm) -> None:
        return None

    def picture_of(self, name: str, page: bool = False) -> None:
        if page and self.page is not None:
            image = self._painters[0].paint(self.page, self._picture)
        elif self.scene is not None:
            image = self._painters[1].paint(self.scene)
        cv2.imwrite(str(self.out / f"{name}.jpg"), image)

    # --- what the proof does
    def go(self, seconds: float) -> None:
        end_s = self.clock.now_s() + seconds
        while self.clock.now_s() < end_s - 1e-9:
            self.loop.turn(self.stop)

    def until(self, met: Callable[[], bool], longest_s: float) -> float | None:
        """Let time go on until something is so; return how long it took, None: it did not come."""
        began_s = self.clock.now_s()
        while not met():
            if self.clock.now_s() - began_s >= longest_s:
                return None
            self.loop.turn(self.stop)
        return round(self.clock.now_s() - began_s, 2)

    @property
    def state(self) -> str:
        return self.loop.visit.state

    @property
    def trouble(self) -> str | None:
        session = self.loop.session
        seen = None if session is None else session.observation
        return None if seen is None else seen.trouble

    def events(self, kind: str) -> list[dict[str, object]]:
        session = self.loop.session
        return [] if session is None else [e for e in session.events() if e["kind"] == kind]

    def judged(self, from_s: float, to_s: float) -> int:
        """Return how many landings of a span were judged."""
        session = self.loop.session
        records = (
            [] if session is None else [r for run in session.coaching.runs for r in run.records]
        )
        return sum(r.landing is not None and from_s <= r.step.t_contact_s < to_s for r in records)

    def lines(self) -> tuple[str, ...]:
        return () if self.page is None else self.page.lines


def wrong_facing(bay: StagedBay) -> dict[str, object]:
    """Stand the other way round than the profile says."""
    bay.runner.act("stand")
    bay.pressed += TO_STAND
    told = bay.until(lambda: "turn_round" in bay.lines(), 4.0)
    bay.go(3.0)
    bay.picture_of("turn-round", page=True)
    return {"turn_round_told_s": told, "waits": bay.state == "view_check"}


def to_session(bay: StagedBay) -> dict[str, object]:
    """Stand with somebody behind, then alone; then run."""
    bay.runner.act("stand")
    bay.others = (moved(standing(Body(1.7), 0.0), BEHIND_M),)
    bay.pressed += TO_STAND
    told = bay.until(lambda: "not_alone" in bay.lines(), 6.0)
    bay.go(3.0)
    held = bay.state == "view_check"
    bay.picture_of("not-alone-before", page=True)
    bay.others = ()
    began = bay.until(lambda: bay.state == "session", 8.0)
    bay.runner.act("run")
    return {"told_before_s": told, "held": held, "begins_once_alone_s": began}


def alone(bay: StagedBay) -> dict[str, object]:
    """Stand alone, then run."""
    bay.runner.act("stand")
    bay.pressed += TO_STAND
    began = bay.until(lambda: bay.state == "session", 8.0)
    bay.runner.act("run")
    return {"begins_s": began}


def belt(bay: StagedBay) -> dict[str, object]:
    """Run until the belt is asked for, and on."""
    bay.until(lambda: len(bay.events("belt asked")) >= 2, 30.0)
    told = bay.until(lambda: bool(bay.events("belt unchanged")), 20.0)
    if told is not None:
        bay.picture_of("belt-still")
    return {"unchanged_told_s": told, "confirmed": [e["by"] for e in bay.events("belt confirmed")]}


def company(bay: StagedBay) -> dict[str, object]:
    """Let somebody come behind the belt, stay and go."""
    bay.go(9.0)
    bay.others = (moved(standing(Body(1.7), 0.0), BEHIND_M),)
    told = bay.until(lambda: bay.trouble == "second_person", 6.0)
    began_s = bay.clock.now_s()
    bay.go(5.0)
    bay.picture_of("second-person")
    bay.others = ()
    back = bay.until(lambda: bay.trouble is None, 8.0)
    bay.go(2.0)
    judged, again = bay.judged(began_s, began_s + 5.0), bay.judged(began_s + 5.0, 1e9)
    return {
        "told_s": told, "judged_meanwhile": judged, "back_s": back, "judged_again": again,
        "session_goes_on": bay.state == "session", "called": True in bay.calls,
    }  # fmt: skip


def slow_walk(bay: StagedBay) -> dict[str, object]:
    """Walk from the start, on a belt that is set to a walk's speed."""
    bay.walks = True
    alone(bay)
    bay.go(3.0)
    told = bay.until(lambda: bay.trouble == "walking", 12.0)
    bay.go(1.0)
    bay.picture_of("slow-walk")
    return {"told_s": told, "session_goes_on": bay.state == "session"}


def walking(bay: StagedBay) -> dict[str, object]:
    """Walk, then run again."""
    bay.walks = True
    bay.runner.act("stand")
    bay.go(0.2)
    bay.runner.act("run")
    told = bay.until(lambda: bay.trouble == "walking", 8.0)
    told_s = bay.clock.now_s()
    bay.go(4.0)
    bay.picture_of("walking")
    judged, stays = bay.judged(told_s, told_s + 4.0), bay.trouble == "walking"
    warned = None if bay.loop.watch is None else bay.loop.watch.warning
    bay.walks = False
    bay.runner.act("stand")
    bay.go(0.2)
    bay.runner.act("run")
    back = bay.until(lambda: bay.trouble is None, 8.0)
    return {
        "told_s": told, "stays_told": stays, "judged_once_told": judged, "back_s": back,
        "warning": warned, "session_goes_on": bay.state == "session",
    }  # fmt: skip


def dark(bay: StagedBay) -> dict[str, object]:
    """Cover the lens while the belt runs; only the staff's code ends the call."""
    bay.lens.covered = True
    called = bay.until(lambda: bay.state == "staff_call", 4.0)
    bay.lens.covered = False
    bay.go(2.0)
    stays = bay.state == "staff_call"
    bay.picture_of("staff-call", page=True)
    bay.pressed += [*STAFF, "Enter"]
    bay.go(1.0)
    ended = bay.state == "summary"
    bay.pressed += ["Enter"]
    bay.go(1.0)
    return {"called_s": called, "stays": stays, "ended_by_staff": ended, "state": bay.state}


def main() -> int:
    """Run all troubles; return the exit code."""
    ask = argparse.ArgumentParser(description="Each trouble of an unattended visit, on pixels.")
    ask.add_argument("--fps", type=float, default=24.0)
    ask.add_argument("--out", type=Path, default=Path("out/proof-troubles"))
    ask.add_argument("--only", choices=PARTS, nargs="+")
    asked = ask.parse_args()
    only = asked.only or PARTS
    asked.out.mkdir(parents=True, exist_ok=True)
    bay_visits.COUNTDOWN_S = 3.0  # it is not what is proved
    try:
        models = MediapipePose(threads=1), SecondLook()
    except StationError as fault:
        print(fault, file=sys.stderr)
        return 3
    told: dict[str, dict[str, object]] = {}

    def step(name: str, did: Callable[[StagedBay], dict[str, object]], bay: StagedBay) -> None:
        told[name] = did(bay)
        print(name, json.dumps(told[name]), file=sys.stderr, flush=True)

    if "facing" in only:
        step("wrong_facing", wrong_facing, StagedBay(models, asked.fps, asked.out, "left"))
    if "belt" in only:
        bay = StagedBay(models, asked.fps, asked.out)
        step("not_alone", to_session, bay)
        step("belt_that_nobody_sets", belt, bay)
    if "session" in only:
        bay = StagedBay(models, asked.fps, asked.out, plan=LONG)
        step("alone", alone, bay)
        step("company", company, bay)
        step("walking", walking, bay)
        step("lost_view", dark, bay)
    if "walk" in only:
        step("slow_walk", slow_walk, StagedBay(models, asked.fps, asked.out, plan=SLOW))
    if "belt-set" in only:
        bay = StagedBay(models, asked.fps, asked.out)
        bay.runner.follows = True
        step("alone_again", alone, bay)
        step("belt_that_is_set", belt, bay)
    amiss = [name for name, answer in told.items() if not holds(name, answer)]
    result = {"proof": "bay_troubles", "holds": not amiss, "amiss": amiss, "fps": asked.fps}
    print(json.dumps({**result, **told}))
    return 1 if amiss else 0


def holds(name: str, told: dict[str, object]) -> bool:
    """Say whether an answer came, in time, and was no louder than it should be."""

    def within(key: str, most_s: float) -> bool:
        value = told[key]
        return isinstance(value, float) and value <= most_s

    if name == "wrong_facing":
        return within("turn_round_told_s", 2.0) and bool(told["waits"])
    if name == "not_alone":
        return within("told_before_s", 5.0) and bool(told["held"])
    if name == "belt_that_nobody_sets":
        return within("unchanged_told_s", 10.0) and "measured" not in told["confirmed"]  # type: ignore[operator]
    if name == "belt_that_is_set":
        return told["unchanged_told_s"] is None and told["confirmed"] == ["measured"]
    if name == "company":
        calm = told["session_goes_on"] and not told["called"]
        judged = told["judged_meanwhile"] == 0 and told["judged_again"] != 0
        return within("told_s", 3.5) and within("back_s", 6.0) and judged and bool(calm)
    if name == "walking":
        calm = told["stays_told"] and told["warning"] is None and told["session_goes_on"]
        return within("told_s", 6.0) and told["judged_once_told"] == 0 and bool(calm)
    if name == "slow_walk":
        return within("told_s", 8.0) and bool(told["session_goes_on"])
    if name == "lost_view":
        ended = told["stays"] and told["ended_by_staff"] and told["state"] == "waiting"
        return within("called_s", 1.0) and bool(ended)
    return True


if __name__ == "__main__":
    sys.exit(main())
