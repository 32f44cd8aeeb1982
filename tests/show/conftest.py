"""Hand-made scenes for the tests of the screen; all values are invented."""

from __future__ import annotations

from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any

import cv2
import numpy as np
import pytest

from station.coach.scene import DrillStatus, LandingMark, Rhythm, Scene, Sentence, TrailMark
from station.show.text import TextBook
from station.values import Facing, Frame, Verdict, View

WIDTH, HEIGHT = 1280, 720


class PlainWords:
    """Says each key as it is."""

    def label(self, key: str) -> str:
        return key.replace("_", " ")

    def sentence(self, key: str, **values: str) -> str:
        return " ".join((key.replace("_", " "), *values.values()))


def grey_frame(width: int = WIDTH, height: int = HEIGHT) -> Frame:
    """A grey picture with a stick figure, lopsided so that mirroring shows."""
    image = np.full((height, width, 3), 128, np.uint8)
    middle = width // 2
    cv2.line(image, (middle, height // 4), (middle, height // 2), (60, 60, 60), 30)
    cv2.line(image, (middle, height // 2), (middle + 60, height * 8 // 9), (90, 90, 90), 24)
    image[: height // 20, : width // 20] = 200
    return Frame(1.0, 0, image)


def view(faces: Facing = "right") -> View:
    return View(330.0, faces, (WIDTH / 2.0, 630.0))


def mark(
    verdict: Verdict | None, faces: Facing = "right", age_s: float = 0.02, at_x: float = 700.0
) -> LandingMark:
    ahead = 1.0 if faces == "right" else -1.0
    return LandingMark(
        "right", verdict, age_s, (at_x - 30.0 * ahead, 480.0), (at_x, 600.0),
        (at_x - 20.0 * ahead, 625.0), (at_x + 60.0 * ahead, 620.0),
        (at_x - 30.0 * ahead, 630.0), (at_x - 10.0 * ahead, 630.0), (at_x, 630.0), 12.0,
    )  # fmt: skip


def scene(**changes: object) -> Scene:
    leg = np.array([[640.0, 330.0], [670.0, 480.0], [690.0, 600.0], [675.0, 625.0], [750.0, 622.0]])
    values: dict[str, object] = {
        "t_s": 1.0,
        "state": "drill",
        "frame": grey_frame(),
        "view": view(),
        "leg_near_px": leg,
        "leg_far_px": leg - (60.0, 10.0),
        "drill": DrillStatus("Easy", 1, 3, "6 mph", 42.0, None, False, (("left", 0.9),)),
        "rhythm": Rhythm(170.0, 174.0, 0.1, 0.345, 0.01, 4),
        "landings": (mark("within"),),
        "trail": tuple(
            TrailMark(side, verdict, deg, False)
            for side, verdict, deg in (
                ("left", "within", -2.0), ("right", "ahead", 3.0), ("left", None, None),
            )
        ),
        "sentence": Sentence("reach_less", "correction"),
    }  # fmt: skip
    return Scene(**{**values, **changes})  # type: ignore[arg-type]


@pytest.fixture(scope="session")
def make() -> SimpleNamespace:
    """Return the builders: scene, mark, view, grey_frame, and the words."""
    return SimpleNamespace(
        scene=scene, mark=mark, view=view, grey_frame=grey_frame, words=PlainWords(),
        width=WIDTH, height=HEIGHT,
    )  # fmt: skip


@dataclass(frozen=True)
class Drawn:
    """A text as it was drawn."""

    text: str
    cap: int
    over: tuple[int, int]
    """By how much it leaves its picture, across and down, pixels."""


@pytest.fixture
def drawn(monkeypatch: pytest.MonkeyPatch) -> list[Drawn]:
    """Collect each text that is drawn, also an empty one."""
    found: list[Drawn] = []
    true = TextBook.draw

    def draw(self: TextBook, screen: Any, text: str, at: Any, cap: int, *more: Any, **named: Any):
        wide = true(self, screen, text, at, cap, *more, **named)
        align = named.get("align", more[1] if len(more) > 1 else "left")
        left = at[0] - {"left": 0, "centre": wide // 2, "right": wide}[align]
        over_x = max(0, -left, left + wide - screen.shape[1])
        over_y = max(0, cap - at[1], at[1] - screen.shape[0])
        found.append(Drawn(text, cap, (int(over_x), int(over_y))))
        return wide

    monkeypatch.setattr(TextBook, "draw", draw)
    return found
