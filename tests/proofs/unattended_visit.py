"""Proof: whole unattended visits, live, on real pixels, in a real window.

Three visits one after the other: one that goes well, though somebody stands behind the belt before
the start and comes back while the runner runs (the second look finds both); one whose runner
drifts back and asks for a pause with a raised hand; and one who is gone from a running belt. Only
runner and bystander are staged. Pictures of every screen go to the folder that `--out` names,
`out/proof-bay` without it; the log of states is in the JSON line. It needs a quiet machine; with
`--stream` every picture is worked on, as fast as it goes, on the pictures' own time: the same
screens, but not live.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pygame
from kit.running import served, shown

from station.clock import Clock, StreamClock, WallClock
from station.coach.plan import Drill, Plan, StepRate
from station.coach.visit.course import VisitChange
from station.commands.bay_screen import WindowedBay
from station.commands.bay_visits import BayParts, BayVisits, StoreBook
from station.commands.simulated import demo_bay, demo_scenario
from station.keep import make_place
from station.keep.store import Records, Wanted
from station.live import SIDE_BY_SIDE, Feed, LockStepFeed, StopWish, ThreadedFeed
from station.live.bay.looks import LooksAtOnce, LooksBeside
from station.live.bay.loop import BayLoop, BaySettings
from station.live.bay.ports import BayInput
from station.see.pose_model import MediapipePose
from station.see.second_look import SecondLook
from station.settings import read_words
from station.simulate.arms import BENT
from station.simulate.figure import Figure
from station.simulate.gait import Runner
from station.simulate.listening import Listening, ListeningParameters
from station.simulate.parameters import Body, GaitParameters
from station.simulate.picture import demo_view
from station.simulate.source import SimulatedSource
from station.simulate.staging import StagedRunner, moved, standing
from station.sound.choose import open_bays_speaker

MPS = 2.7
STAFF = "2468"
FPS = 30.0
PLAN = Plan(
    "Proof of the bay",
    (
        Drill("As you are", belt_speed_mps=MPS, belt_speed_text="6 mph", seconds=14,
              feedback="off", beat=False, guides=False),
        Drill("With the beat", belt_speed_mps=MPS, belt_speed_text="6 mph", seconds=18,
              step_rate=StepRate(spm=172.0)),
        Drill("Too fast alone", belt_speed_mps=4.0, belt_speed_text="4 m/s", seconds=14),
    ),
)  # fmt: skip
BEHIND_M = -1.4
BYSTANDER = moved(standing(Body(1.7), 0.0), BEHIND_M)
_KEYS = {"Enter": pygame.K_RETURN, "Space": pygame.K_SPACE, "Esc": pygame.K_ESCAPE}


class Company:
    """Who else stands behind the belt; read by the source's thread."""

    def __init__(self) -> None:
        self.others: tuple[Figure, ...] = ()

    def come(self) -> None:
        self.others = (BYSTANDER,)

    def go(self) -> None:
        self.others = ()


class Staged(WindowedBay):
    """The bay's real window, in which the script presses real keys and takes pictures."""

    def __init__(self, *parts: object, out: Path) -> None:
        super().__init__(*parts)  # type: ignore[arg-type]
        self.script: Iterator[None] = iter(())
        self.over = False
        self._out = out
        self._taken: set[str] = set()

    def inputs(self) -> tuple[BayInput, ...]:
        if next(self.script, StopIteration) is StopIteration:
            self.over = True
            return (BayInput(leave=True),)
        return super().inputs()

    def press(self, *faces: str) -> None:
        for face in faces:
            key = _KEYS.get(face, pygame.key.key_code(face.lower()))
            text = "" if face in _KEYS else face.lower()
            pygame.event.post(pygame.event.Event(pygame.KEYDOWN, key=key, unicode=text))

    def picture_of(self, name: str) -> None:
        if self.picture is not None and name not in self._taken:
            self._taken.add(name)
            path = self._out / f"{len(self._taken):02}-{name}.jpg"
            cv2.imwrite(str(path), self.picture)


def main() -> int:
    """Run the visits on a screen and a sound server of their own, and judge them."""
    with served(), shown():
        return visits_judged()


def visits_judged() -> int:
    """Run the visits and judge them."""
    options = argparse.ArgumentParser()
    options.add_argument("--out", type=Path, default=Path("out/proof-bay"))
    options.add_argument("--language", default="en")
    options.add_argument("--stream", action="store_true")
    asked = options.parse_args()
    out: Path = asked.out
    language, stream = asked.language, asked.stream
    out.mkdir(parents=True, exist_ok=True)
    stop = StopWish()
    virtual = StreamClock()
    clock: Clock = virtual if stream else WallClock()
    scenario = demo_scenario()
    bay = demo_bay(scenario)
    view = demo_view(1280, 720, scenario.faces)
    rear_px = view.to_image(np.array([[-0.95, 0.0]]))[0]
    bay = replace(bay, staff_code=STAFF, language=language)
    place = make_place(str(out / "records"))
    with Records(place) as records:
        records.change_runner("R-07", belt_cap_mps=3.2, hops_cap=0)
    runner = StagedRunner(
        lambda: Runner(
            GaitParameters(belt_mps=MPS, rate_spm=165.0, wander_m=0.02),
            Listening(ListeningParameters()),
        )
    )
    company = Company()
    source = SimulatedSource(
        runner, view, 1280, 720, FPS, name="staged", others=lambda _: company.others
    )
    feed: Feed
    if stream:
        feed = LockStepFeed(source, MediapipePose(threads=1), virtual)
    else:
        feed = ThreadedFeed(source, *(MediapipePose() for _ in range(SIDE_BY_SIDE)))
    screen = Staged(bay, read_words(language), False, out=out)
    speaker = open_bays_speaker(clock, bay, stream, False)
    log: list[VisitChange] = []
    looks = LooksAtOnce(SecondLook()) if stream else LooksBeside(SecondLook())
    if isinstance(looks, LooksBeside):
        looks.start()
    try:
        info = feed.start(clock)
        parts = BayParts(
            bay, place, read_words(language), feed, speaker, clock, info, "demo", source,
            out / "visits", print,
        )  # fmt: skip
        settings = BaySettings(PLAN, STAFF, 4.4, (float(rear_px[0]), float(rear_px[1])), "right")
        loop = BayLoop(
            settings,
            feed,
            screen,
            speaker,
            clock,
            StoreBook(place, print),
            BayVisits(parts),
            log.append,
            looks,
        )  # fmt: skip
        seen: dict[str, float] = {}
        screen.script = script(loop, screen, runner, company, clock, seen)
        loop.run(stop, 500.0)
    finally:
        looks.stop()
        feed.stop()
        speaker.stop()
        screen.close()
    with Records(place) as records:
        visits = records.visits(Wanted(runner="R-07"))
    states = [change.to for change in log]
    told = {
        "proof": "unattended_visit",
        "live": not stream,
        "script_done": screen.over,
        "visits": len(visits),
        "states": states,
        **{name: round(value, 3) for name, value in seen.items()},
        "stop_reason": stop.reason,
        "steps": [visit.steps for visit in visits],
        "ended": [visit.why for visit in visits],
    }
    good = (
        screen.over
        and len(visits) == 3
        and seen.get("warned_before_leaving_s", -1.0) >= 0.5
        and seen.get("gone_answered_s", 9.0) <= 1.0
        and seen.get("hand_seen_s", 9.0) <= 1.5
        and seen.get("company_told_s", 9.0) <= 4.0
        and seen.get("judged_in_company", 9.0) == 0
        and seen.get("not_alone_held", 0.0) == 1.0
        and states[-1] == "waiting"
    )
    print(json.dumps({**told, "holds": good}))
    return 0 if good else 1


def script(
    loop: BayLoop,
    screen: Staged,
    runner: StagedRunner,
    company: Company,
    clock: Clock,
    seen: dict[str, float],
) -> Iterator[None]:
    """Play the runner's part, one turn of the loop at a time."""

    def until(state: str, most_s: float) -> Iterator[None]:
        began_s = clock.now_s()
        while loop.visit.state != state:
            if clock.now_s() - began_s > most_s:
                screen.picture_of(f"stuck-in-{loop.visit.state}")
                raise RuntimeError(f"{state} not reached: {loop.visit.state}")
            yield

    def pause(seconds: float) -> Iterator[None]:
        end_s = clock.now_s() + seconds
        while clock.now_s() < end_s:
            yield

    def answer(state: str, *faces: str) -> Iterator[None]:
        yield from until(state, 60.0)
        yield from pause(0.3)
        screen.picture_of(state)
        for face in faces:
            screen.press(face)
            yield from pause(0.15)

    def trouble() -> str | None:
        observation = None if loop.session is None else loop.session.observation
        return None if observation is None else observation.trouble

    def judged_since(from_s: float) -> int:
        session = loop.session
        runs = [] if session is None else session.coaching.runs
        steps = [(r.step.t_contact_s, r.landing) for run in runs for r in run.records]
        return sum(landing is not None and t_s >= from_s for t_s, landing in steps)

    def to_session(visited: bool, watched: bool = False) -> Iterator[None]:
        runner.act("away")
        yield from answer("waiting", "Enter")
        yield from answer("who", *"R-07")
        screen.picture_of("who-typed")
        screen.press("Enter")
        if visited:
            yield from answer("since_last", "1")
        yield from answer("notice", "Enter")
        yield from answer("readiness", "1", "2")
        screen.picture_of("readiness-half")
        screen.press("3", "4")
        yield from answer("pain_before", "0")
        yield from until("view_check", 5.0)
        yield from pause(1.0)
        screen.picture_of("view_check-nobody")
        runner.act("stand")
        if watched:
            company.come()
            yield from pause(6.0)
            screen.picture_of("view_check-not-alone")
            seen["not_alone_held"] = float(loop.visit.state == "view_check")
            company.go()
        else:
            yield from pause(1.6)
            screen.picture_of("view_check-standing")
        yield from until("session", 20.0)
        yield from pause(1.0)
        screen.picture_of("countdown")
        yield from pause(10.0)
        runner.act("run")

    def watch_word() -> str | None:
        return None if loop.watch is None else loop.watch.warning

    # The first visit goes well.
    yield from to_session(False, watched=True)
    yield from pause(9.0)
    screen.picture_of("first-drill")
    while loop.session is not None and (loop.session.coaching.progress.number or 0) < 2:
        yield
    yield from pause(4.0)
    screen.picture_of("with-the-beat")
    company.come()
    began_s = clock.now_s()
    while trouble() != "second_person" and clock.now_s() - began_s < 6.0:
        yield
    told_s = clock.now_s()
    seen["company_told_s"] = told_s - began_s
    yield from pause(3.0)
    screen.picture_of("second-person")
    seen["judged_in_company"] = judged_since(told_s)
    company.go()
    while loop.session is not None and loop.session.ended is None:
        yield
    yield from pause(1.0)
    screen.picture_of("session-done")
    runner.act("stand")
    yield from answer("pain_after", "2")
    yield from pause(0.3)
    screen.picture_of("pain-where")
    screen.press("3")
    yield from pause(0.3)
    screen.picture_of("pain-kind")
    screen.press("Enter")
    yield from answer("summary", "Enter")

    # The second drifts back, then raises a hand.
    yield from to_session(True)
    yield from pause(20.0)
    runner.drift(-0.5)
    began_s = clock.now_s()
    while watch_word() is None:
        yield
        if clock.now_s() - began_s > 5.0:
            raise RuntimeError("a drift was not warned of")
    seen["drift_warned_after_s"] = clock.now_s() - began_s
    seen["warned_before_leaving_s"] = runner.leaves_in_s(0.95, 0.5)
    yield
    screen.picture_of("come-forward")
    runner.drift(0.5)
    yield from pause(clock.now_s() - began_s)
    runner.drift(0.0)
    yield from pause(3.0)
    runner.raise_hand("right", BENT)
    began_s = clock.now_s()
    while watch_word() != "hand_paused":
        yield
        if clock.now_s() - began_s > 5.0:
            raise RuntimeError("a raised hand was not seen")
    seen["hand_seen_s"] = clock.now_s() - (runner.hand_above_s or began_s)
    yield from pause(0.5)
    screen.picture_of("hand-paused")
    runner.raise_hand(None)
    yield from pause(3.0)
    runner.raise_hand("right", BENT)
    yield from pause(2.5)
    runner.raise_hand(None)
    while loop.session is not None and loop.session.ended is None:
        yield
    runner.act("stand")
    yield from answer("pain_after", "0")
    yield from answer("summary", "Enter")

    # The third is gone from a running belt.
    yield from to_session(True)
    yield from pause(16.0)
    runner.act("away")
    began_s = clock.now_s()
    yield from until("staff_call", 5.0)
    seen["gone_answered_s"] = clock.now_s() - began_s
    yield from pause(1.0)
    screen.picture_of("staff_call")
    screen.press(*"1111", "Enter")
    yield from pause(1.0)
    screen.picture_of("staff_call-wrong")
    screen.press(*STAFF, "Enter")
    yield from answer("summary", "Enter")
    yield from until("waiting", 5.0)
    yield from pause(0.5)


if __name__ == "__main__":
    sys.exit(main())
