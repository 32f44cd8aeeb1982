"""What a page of the set-up shows, as values: sentences, marks, places to touch, fields."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from station.coach.choice import Choice
from station.measure.setup.lines import Point

StepName = Literal[
    "camera", "light", "rate", "level", "belt", "scale", "runner", "square", "facing", "learn",
    "sound", "clap", "screen", "folder", "save",
]  # fmt: skip
Grade = Literal["open", "good", "look", "bad"]
"""`open`: not measured yet; `look`: it works, but not as well as it could; `bad`: it does not."""
_WORST: tuple[Grade, ...] = ("bad", "look", "open", "good")


@dataclass(frozen=True, slots=True)
class Reading:
    """One thing that was measured, as a sentence, and whether it is good enough."""

    key: str
    """Of the words."""
    grade: Grade
    values: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Mark:
    """Something drawn over the camera's picture."""

    kind: Literal["line", "point", "body"]
    points: tuple[Point, ...]
    """Image pixels."""
    grade: Grade = "good"


@dataclass(frozen=True, slots=True)
class Entry:
    """A number or text to be typed."""

    id: str
    key: str
    text: str
    unit: str = ""
    active: bool = True


@dataclass(frozen=True, slots=True)
class Body:
    """What one step shows."""

    how: str
    """Key of the sentence that says what to do."""
    readings: tuple[Reading, ...] = ()
    marks: tuple[Mark, ...] = ()
    offers: tuple[Choice, ...] = ()
    entries: tuple[Entry, ...] = ()
    loupe: Point | None = None
    """Show this place of the picture enlarged."""
    bar_px: float | None = None
    """Draw a bar of so many pixels of the 1280 px wide screen."""
    share: float | None = None
    """How far the measuring has come; None: there is none."""
    picture: bool = True

    @property
    def grade(self) -> Grade:
        """What the step comes to by its worst reading; without any it is open."""
        grades = {reading.grade for reading in self.readings}
        return next((grade for grade in _WORST if grade in grades), "open")


@dataclass(frozen=True, slots=True)
class SetupPage:
    """One page of the set-up's screen."""

    step: StepName
    number: int
    """From 1."""
    grades: tuple[Grade, ...]
    """Of all steps, in order."""
    body: Body
    skipped: tuple[bool, ...] = ()
    leaving: bool = False
    """Leaving was asked for once: nothing is saved yet."""
    saved: bool = False

    @property
    def grade(self) -> Grade:
        """Of the step that is shown."""
        return self.body.grade
