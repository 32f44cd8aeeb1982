"""Prove that a bay can be set up from the first page to the saved profile: real window and pixels.

A bay with a camera turned by some degrees and a belt on a slope is set up in a real window on a
virtual screen, by clicks and keys put into SDL's own queue as a mouse's and a keyboard's are. The
clicks are some pixels off, as a hand's are. What was saved is compared with the simulated truth;
then `station check` and `station run` are run on a saved profile, on the demo's own bay.

    python tests/proofs/setup_window.py --out FOLDER --language de

Pictures of every page go to `--out`. Prints JSON lines; exits 1 where something is off, 3 without
Xvfb. `--beside` sets up once only, by hand and from running: README's two pictures are of it.
"""

from __future__ import annotations

# First of all: it keeps numpy to one thread, as in `station run`.
import station  # noqa: F401

# isort: split

import argparse
import contextlib
import math
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np
import pygame
from kit.running import served, shown, tell

from station.clock import WallClock
from station.coach.setup.course import SetupCourse
from station.coach.setup.values import Camera, Done
from station.commands.setup_devices import Devices
from station.commands.setup_screen import WindowedSetup
from station.live import StopWish
from station.live.setup.loop import SetupLoop
from station.measure.setup.scale import belt_rise_deg
from station.settings import read_bay, read_words
from station.simulate.gait import Runner
from station.simulate.parameters import GaitParameters
from station.simulate.picture import PictureOptions
from station.simulate.setting_up import SetUpSource
from station.simulate.staging import StagedRunner
from station.values import Bay, View

ROLL_DEG, INCLINE, MPS, PX_PER_M = 1.3, 2.0, 3.0, 318.0
VIEW = View(PX_PER_M, "right", (640.0, 642.0), ROLL_DEG, math.degrees(math.atan(INCLINE / 100.0)))
SCALE_BOUND, SLOPE_BOUND_DEG, ROLL_BOUND_DEG = 0.02, 0.5, 0.2
HAND_PX = 1.5
"""How far off each click lands, of the screen's pixels."""
_MOST_S = 240.0
_SIGNS = {".": "PERIOD", "/": "SLASH", "-": "MINUS"}


def source() -> SetUpSource:
    """The bay that is set up."""
    return SetUpSource(
        StagedRunner(
            lambda: Runner(
                GaitParameters(belt_mps=MPS, incline_percent=INCLINE, rate_spm=168.0, seed=5)
            )
        ),
        VIEW, 1280, 720, 30.0, PictureOptions(noise=3.0),
    )  # fmt: skip


class Scripted(WindowedSetup):
    """The real window, in which a script clicks and types and takes pictures."""

    def __init__(self, language: str, out: Path) -> None:
        super().__init__(read_words(language), False)
        self.script: Iterator[None] = iter(())
        self.over = False
        self._out = out
        self._taken = 0
        self._random = np.random.default_rng(3)

    def inputs(self) -> tuple[Done, ...]:
        if next(self.script, StopIteration) is StopIteration:
            self.over = True
        return super().inputs()

    def press(self, *names: str) -> None:
        for name in names:
            text = name if len(name) == 1 else ""
            key = getattr(pygame, f"K_{_SIGNS.get(name, name)}", None) or pygame.key.key_code(name)
            pygame.event.post(pygame.event.Event(pygame.KEYDOWN, key=key, unicode=text))

    def click(self, x: float, y: float) -> None:
        at = (round(x), round(y))
        pygame.event.post(pygame.event.Event(pygame.MOUSEBUTTONDOWN, button=1, pos=at))

    def click_place(self, name: str) -> None:
        box = dict(self.painter.places)[name]
        self.click(*box.middle)

    def click_in_picture(self, point: np.ndarray) -> None:
        """Click where a point of the camera's picture is, as exactly as a hand does."""
        x, y = self.painter.frame.on_screen((float(point[0]), float(point[1])))
        off = self._random.uniform(-HAND_PX, HAND_PX, 2)
        self.click(x + float(off[0]), y + float(off[1]))

    def picture_of(self, name: str) -> None:
        if self.picture is not None:
            self._taken += 1
            cv2.imwrite(str(self._out / f"{self._taken:02}-{name}.png"), self.picture)


def script(
    loop: SetupLoop, screen: Scripted, clock: WallClock, marks: bool, learns: bool
) -> Iterator[None]:
    """Do what a technician does, one turn of the loop at a time; what is marked is kept."""
    course = loop.course

    def pause(seconds: float) -> Iterator[None]:
        end_s = clock.now_s() + seconds
        while clock.now_s() < end_s:
            yield

    def until(keys: tuple[str, ...], most_s: float = _MOST_S) -> Iterator[None]:
        """Wait until one of these readings is shown."""
        end_s = clock.now_s() + most_s
        while not any(r.key in keys for r in course.page().body.readings):
            if clock.now_s() > end_s:
                shown = [r.key for r in course.page().body.readings]
                raise RuntimeError(f"{course.step.name}: none of {keys}, but {shown}")
            yield

    def on(step: str) -> Iterator[None]:
        yield from pause(0.2)
        screen.picture_of(course.step.name)
        screen.click_place("next")
        end_s = clock.now_s() + 20.0
        while course.step.name != step:
            if clock.now_s() > end_s:
                raise RuntimeError(f"{step} not reached: {course.step.name}")
            yield
        yield from pause(0.4)

    yield from until(("setup_camera_moves",))
    yield from on("light")
    yield from until(("setup_light_good",))
    yield from on("rate")
    yield from until(("setup_rate_good", "setup_rate_slow"))
    yield from on("level")
    yield from until(("setup_level_found",))
    screen.picture_of("level-found")
    truth = loop_source(loop)
    if marks:
        for end in truth.string_ends_px():
            screen.click_in_picture(end + np.array([3.0, -6.0]))
            yield from pause(0.3)
    yield from on("belt")
    if marks:
        for x in (-0.75, 0.65):
            rise = math.radians(truth.view.belt_rise_deg)
            at = truth.view.to_image(np.array([x * math.cos(rise), x * math.sin(rise)]))
            screen.click_in_picture(at)
            yield from pause(0.3)
            screen.picture_of("belt-clicked")
    yield from on("scale")
    if marks:
        for end in truth.rod_ends_px():
            screen.click_in_picture(end)
            yield from pause(0.3)
        screen.press("1", "0", "0")
        yield from pause(0.3)
    yield from on("runner")
    yield from until(("setup_runner_whole",))
    yield from on("square")
    yield from until(("setup_square_good", "setup_square_off"))
    yield from on("facing")
    yield from until(("setup_facing_right",))
    yield from on("learn")
    screen.press(*f"{3.6 * MPS:.1f}")
    yield from pause(0.2)
    screen.press("TAB", *f"{INCLINE:g}")
    yield from pause(6.0)
    screen.picture_of("learning")
    if learns:
        yield from until(
            ("setup_learned_scale", "setup_scales_alike", "setup_scales_differ"), 900.0
        )
        yield from pause(0.3)
        yield from on("sound")
    else:  # what was marked is enough
        screen.press("PAGEDOWN")
        yield from pause(0.5)
    screen.press("1")
    yield from pause(1.0)
    screen.picture_of("listening")
    yield from until(("setup_sound_in_time", "setup_sound_late", "setup_sound_trouble"), 40.0)
    yield from on("clap")
    yield from on("screen")
    screen.press("1", "8", "9")
    yield from pause(0.2)
    screen.press("TAB", "2", ".", "2")
    yield from on("folder")
    yield from until(("setup_folder_good", "setup_folder_little"))
    yield from on("save")
    yield from pause(0.3)
    screen.picture_of("save")
    screen.click_place("next")
    yield from until(("setup_saved",))
    yield from pause(0.3)
    screen.picture_of("saved")
    screen.press("RETURN")
    yield from pause(0.3)


def loop_source(loop: SetupLoop) -> SetUpSource:
    """The source that is open now."""
    found = loop._devices._source  # type: ignore[attr-defined]
    assert isinstance(found, SetUpSource)
    return found


def set_up(path: Path, out: Path, language: str, marks: bool, learns: bool) -> dict[str, object]:
    """Set a bay up; return what is off."""
    out.mkdir(parents=True, exist_ok=True)
    clock = WallClock()
    screen = Scripted(language, out)
    devices = Devices(path, clock, source)
    bay = read_bay(path) if path.exists() else Bay()
    course = SetupCourse(bay, (Camera("demo", "demo"),))
    loop = SetupLoop(course, screen, devices, clock)
    screen.script = script(loop, screen, clock, marks, learns)
    try:
        why = loop.run(StopWish())
    finally:
        devices.end()
        screen.close()
    told: dict[str, object] = {
        "proof": "setup_window", "marked": marks, "learned": learns, "language": language,
        "broken_off": why, "saved": course.saved is not None,
    }  # fmt: skip
    view = read_bay(path).view
    assert view.px_per_m is not None
    assert view.belt_line is not None
    rise = belt_rise_deg(*view.belt_line, view.roll_deg, view.faces or "right")
    off = {
        "scale_off_percent": 100.0 * (view.px_per_m / PX_PER_M - 1.0),
        "slope_off_deg": rise - VIEW.belt_rise_deg,
        "roll_off_deg": view.roll_deg - ROLL_DEG,
    }
    told.update({name: round(value, 3) for name, value in off.items()})
    told["faces"] = view.faces
    told["holds"] = (
        course.saved is not None
        and abs(off["scale_off_percent"]) <= 100.0 * SCALE_BOUND
        and abs(off["slope_off_deg"]) <= SLOPE_BOUND_DEG
        and abs(off["roll_off_deg"]) <= ROLL_BOUND_DEG
        and view.faces == VIEW.faces
    )
    return told


def used(path: Path, out: Path) -> dict[str, object]:
    """Run the station's own commands on a saved profile."""
    codes = {}
    for name, command in {
        "check": ["check", "--bay", str(path), "--source", "demo", "--mute", "--seconds", "0.5"],
        "run": ["run", "--bay", str(path), "--source", "demo", "--fast", "--headless",
                "--seconds", "3", "--out", str(out / "session")],
    }.items():  # fmt: skip
        done = subprocess.run(
            [sys.executable, "-m", "station", *command], capture_output=True, text=True, timeout=120
        )
        codes[f"{name}_exit_code"] = done.returncode
    return {"proof": "setup_window", **codes, "holds": set(codes.values()) == {0}}


def results(out: Path, language: str, beside: bool) -> Iterator[dict[str, object]]:
    """Set up by hand, then learn the same from running, then use what was saved."""
    ways = {"marked": (True, False), "learned": (False, True)}
    if beside:
        ways = {"beside": (True, True)}
    with shown(), contextlib.ExitStack() as stack:
        stack.enter_context(served())
        out.mkdir(parents=True, exist_ok=True)
        for name, (marks, learns) in ways.items():
            path = out / f"{name}.toml"
            path.unlink(missing_ok=True)
            yield set_up(path, out / name, language, marks, learns)
        yield used(out / f"{next(iter(ways))}.toml", out)


def main() -> int:
    """Run the proof."""
    options = argparse.ArgumentParser()
    options.add_argument("--out", type=Path, default=Path("out/proof-setup"))
    options.add_argument("--language", default="en")
    options.add_argument("--beside", action="store_true")
    args = options.parse_args()
    return tell("setup_window", results(args.out, args.language, args.beside))


if __name__ == "__main__":
    sys.exit(main())
