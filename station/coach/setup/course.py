"""The way through the set-up: one step after the other, forward, back, past, and saved."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from station.coach.setup.belt_step import BeltStep
from station.coach.setup.bounds import LONGEST_S
from station.coach.setup.camera_step import CameraStep, usual_device
from station.coach.setup.clap_step import ClapStep
from station.coach.setup.folder_step import FolderStep
from station.coach.setup.learn_step import LearnStep
from station.coach.setup.level_step import LevelStep
from station.coach.setup.light_step import LightStep
from station.coach.setup.page import Body, Grade, Reading, SetupPage, StepName
from station.coach.setup.rate_step import RateStep
from station.coach.setup.runner_steps import FacingStep, RunnerStep, SquareStep
from station.coach.setup.save_step import SaveStep
from station.coach.setup.scale_step import ScaleStep
from station.coach.setup.screen_step import ScreenStep
from station.coach.setup.sound_step import SoundStep
from station.coach.setup.step import Step
from station.coach.setup.values import (
    Camera,
    Chosen,
    Done,
    Draft,
    Facts,
    Failed,
    OpenCamera,
    Opened,
    Saved,
    Told,
    Wish,
)
from station.values import Bay

STEP_NAMES: tuple[StepName, ...] = (
    "camera", "light", "rate", "level", "belt", "scale", "runner", "square", "facing", "learn",
    "sound", "clap", "screen", "folder",
)  # fmt: skip
"""Each can be run again by itself; `save` comes at the end of all."""
_WITH_PICTURES = (
    "light", "rate", "level", "belt", "scale", "runner", "square", "facing", "learn", "clap",
)  # fmt: skip
NEXT, BACK, SKIP, LEAVE = "next", "back", "skip", "leave"


class SetupCourse:
    """The state of one set-up. Used by one thread; has no clock and no device."""

    def __init__(self, bay: Bay, cameras: Sequence[Camera], only: StepName | None = None) -> None:
        """Begin at the first step; `begin` gives its first wish.

        Args:
            bay: The profile as it is.
            cameras: Those that can be picked.
            only: One step that is done again; None: all.
        """
        self.draft = Draft(bay)
        self._cameras = tuple(cameras)
        self.over = False
        """Whether the window is to be closed."""
        self._screen = ScreenStep()
        steps: tuple[Step, ...] = (
            CameraStep(cameras), LightStep(), RateStep(), LevelStep(), BeltStep(), ScaleStep(),
            RunnerStep(), SquareStep(), FacingStep(), LearnStep(), SoundStep(), ClapStep(),
            self._screen, FolderStep(),
        )  # fmt: skip
        self._save = SaveStep()
        self._steps = (*(s for s in steps if only in (None, s.name)), self._save)
        self._at = 0
        self._past: dict[StepName, Grade] = {}
        self._skipped: set[StepName] = set()
        self._leaving = False
        self._trouble: str | None = None

    @property
    def step(self) -> Step:
        """The step that is shown."""
        return self._steps[self._at]

    @property
    def saved(self) -> Saved | None:
        """Where the profile is; None: not saved."""
        return self._save.saved

    def begin(self) -> Wish | None:
        """Return the first step's wish; a step done again by itself needs its camera first."""
        wish = self.step.enter(self.draft)
        if self.draft.camera is None and self.step.name in _WITH_PICTURES:
            device = usual_device(self._cameras, self.draft.bay)
            if device is not None:
                held_s = self.draft.bay.exposure_s
                if self.step.name == "light" and held_s is None:
                    held_s = LONGEST_S
                wish = OpenCamera(device, held_s)
        return self._noted(wish)

    def _noted(self, wish: Wish | None) -> Wish | None:
        if isinstance(wish, OpenCamera):
            self.draft = replace(self.draft, device=wish.device)
        return wish

    def see(self, facts: Facts) -> None:
        """Take one picture."""
        self.step.see(facts, self.draft)

    def told(self, told: Told) -> None:
        """Take what came of a wish."""
        if isinstance(told, Failed) and told.what == "camera":
            self._trouble = told.why
        if isinstance(told, Opened):
            self._trouble = None
            self.draft = replace(self.draft, camera=told)
            if self.step.name in _WITH_PICTURES:
                self.step.enter(self.draft)  # what it saw was of another camera, or exposure
        for step in self._steps:
            step.told(told, self.draft)

    def shown_at(self, share: float) -> None:
        """Take how large the picture is shown against the full screen: 1 where it fills it."""
        self._screen.share = share

    def lost(self) -> None:
        """The source gives no more pictures."""
        self.draft = replace(self.draft, camera=None)

    def take(self, done: Done) -> Wish | None:
        """Take what a person did; return what the step wishes for."""
        if isinstance(done, Chosen) and done.id in (NEXT, BACK, SKIP, LEAVE):
            return self._noted(self._go(done.id))
        self._leaving = False
        return self._noted(self.step.take(done, self.draft))

    def _go(self, way: str) -> Wish | None:
        if way == LEAVE:
            self.over = self._leaving or self.saved is not None
            self._leaving = True
            return None
        self._leaving = False
        if way == NEXT and self.step is self._save:
            if self.saved is not None:
                self.over = True
                return None
            return self._save.take(Chosen("save"), self.draft)
        if way == SKIP and self.step is self._save:
            return None
        if way in (NEXT, SKIP):
            self._past[self.step.name] = self.step.body(self.draft).grade
            self._skipped.discard(self.step.name)
            if way == NEXT:
                self.draft = self.step.apply(self.draft)
            else:
                self._skipped.add(self.step.name)
        there = self._at + (1 if way in (NEXT, SKIP) else -1)
        if not 0 <= there < len(self._steps):
            return None
        self._at = there
        return self.step.enter(self.draft)

    def _told(self, body: Body) -> Body:
        """Say why there is no picture, where that is known."""
        if self._trouble is None:
            return body
        why = Reading("setup_camera_trouble", "bad", (("why", self._trouble),))
        readings = tuple(why if r.key == "setup_no_picture" else r for r in body.readings)
        return replace(body, readings=readings)

    def page(self) -> SetupPage:
        """Return what is to be shown now."""
        body = self._told(self.step.body(self.draft))
        grades = tuple(
            body.grade if n == self._at else self._past.get(step.name, "open")
            for n, step in enumerate(self._steps)
        )
        skipped = tuple(step.name in self._skipped for step in self._steps)
        return SetupPage(
            self.step.name, self._at + 1, grades, body, skipped, self._leaving,
            self.saved is not None,
        )  # fmt: skip
