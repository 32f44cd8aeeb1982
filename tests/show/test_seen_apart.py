"""Contrast and colour vision, worked out from painted pictures; the judge is a colour library.

Contrast is the WCAG 2.x ratio. Colour vision is simulated by coloraide's filters (Vienot, Brettel
and Mollon 1999 for red and green; Brettel, Vienot and Mollon 1997 for blue), in full severity.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from types import SimpleNamespace
from typing import Any, get_args

import cv2
import numpy as np
import pytest
from coloraide import Color
from numpy.typing import NDArray

from station.coach.scene import (
    DrillStatus,
    FeltStatus,
    HopStatus,
    Rhythm,
    Scene,
    Sentence,
    State,
)
from station.show.painter import Painter
from station.show.text import TextBook
from station.values import Frame

Image = NDArray[np.uint8]
TEXT, MARK = 4.5, 3.0
"""Least contrasts, WCAG 2.x success criteria 1.4.3 and 1.4.11."""
VISIONS = ("all colours", "protan", "deutan", "tritan", "grey")
BEHIND = ("white", "black", "noise")


@cache
def seen(blue: int, green: int, red: int, vision: str) -> float:
    """The relative luminance of a colour as it is seen, 0 to 1."""
    colour = Color("srgb", [red / 255.0, green / 255.0, blue / 255.0])
    if vision in ("protan", "deutan", "tritan"):
        colour = colour.filter(vision).clip()
    return max(0.0, colour.luminance())


def luminance(image: Image, vision: str = "all colours") -> NDArray[np.float64]:
    """The relative luminance of each pixel; colours are looked at in steps of 4 of 255."""
    coarse = image.astype(np.int32) >> 2
    codes, back = np.unique(
        (coarse[..., 0] << 12) | (coarse[..., 1] << 6) | coarse[..., 2], return_inverse=True
    )
    told = np.array(
        [seen(c >> 12 << 2, (c >> 6 & 63) << 2, (c & 63) << 2, vision) for c in codes.tolist()]
    )
    return np.asarray(told[back.reshape(-1)].reshape(image.shape[:2]))


def ratio(one: float, two: float) -> float:
    light, dark = max(one, two), min(one, two)
    return (light + 0.05) / (dark + 0.05)


def background(kind: str) -> Frame:
    image = np.full((720, 1280, 3), {"white": 255, "black": 0}.get(kind, 128), np.uint8)
    if kind == "noise":
        coarse = np.random.default_rng(3).integers(0, 256, (9, 16, 3), np.uint8)
        image = coarse.repeat(80, axis=0).repeat(80, axis=1)
    return Frame(0.0, 0, image)


@pytest.fixture(scope="module")
def painter(make: SimpleNamespace) -> Painter:
    return Painter(make.width, make.height, make.words)


def states(make: SimpleNamespace) -> list[Scene]:
    drill: DrillStatus = make.scene().drill
    waits = replace(drill, belt_waits=True, belt_measured="7 mph", belt_speed="8 mph")
    return [
        *(make.scene(state=state) for state in get_args(State)),
        make.scene(landings=(make.mark("ahead"),)),
        *(
            make.scene(landings=(make.mark(verdict, age_s=age_s),))
            for verdict in ("within", "ahead", None)
            for age_s in (0.25, 0.3, 0.345)
        ),
        make.scene(drill=waits),
        make.scene(drill=replace(drill, hop=HopStatus("left", 6, 1, 5))),
        make.scene(state="felt", felt=FeltStatus(typed=1)),
        make.scene(state="felt", felt=FeltStatus(8, None, 6)),
        make.scene(state="trouble", sentence=Sentence("come_forward", "warning")),
        make.scene(rhythm=Rhythm(160.0, 174.0, 0.0, 0.345, 0.07, 4)),
    ]


# --- contrast -----------------------------------------------------------------------------------


@pytest.fixture
def drawn(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, tuple[int, int, int, int], Image]]:
    """Collect each text with its box and the painted pixels right after it was laid."""
    found: list[tuple[str, tuple[int, int, int, int], Image]] = []
    true = TextBook.draw

    def draw(self: TextBook, screen: Any, text: str, at: Any, cap: int, *more: Any, **named: Any):
        before = screen.copy()
        wide = true(self, screen, text, at, cap, *more, **named)
        changed = np.argwhere((screen != before).any(axis=2))
        if len(changed):
            (y0, x0), (y1, x1) = changed.min(axis=0), changed.max(axis=0) + 1
            part = screen[y0:y1, x0:x1].copy()
            found.append((text, (x0, y0, x1, y1), np.stack([before[y0:y1, x0:x1], part])))
        return wide

    monkeypatch.setattr(TextBook, "draw", draw)
    return found


@pytest.mark.parametrize("behind", ["white", "noise"])
def test_every_text_stands_out(drawn: list[Any], make: SimpleNamespace, behind: str) -> None:
    """Letters against what lies behind them, over any picture, in every state."""
    painter = Painter(640, 360, make.words)  # kept panels paint anew in a new painter
    for scene in states(make):
        painter.paint(replace(scene, frame=background(behind)))
    assert len(drawn) > 60
    for text, _, (before, after) in drawn:
        ink = luminance(after)
        ground = luminance(before)
        # The letters' cores: what changed the most. Thin strokes at their edges are mixed.
        change = np.abs(ink - ground)
        core = change >= 0.9 * change.max()
        least = min(ratio(a, b) for a, b in zip(ink[core], ground[core], strict=True))
        assert least >= TEXT, text


@pytest.mark.parametrize("behind", BEHIND)
@pytest.mark.parametrize("verdict", ["within", "ahead", None])
def test_every_guide_stands_out(
    painter: Painter, make: SimpleNamespace, verdict: Any, behind: str
) -> None:
    """The guides on the picture against the rim that they are painted with, over any picture."""
    scene = make.scene(frame=background(behind), landings=(make.mark(verdict),), leg_near_px=None,
                       leg_far_px=None, sentence=None)  # fmt: skip
    stage = painter._layout.stage
    rows, columns = slice(stage.y, stage.bottom), slice(stage.x + 60, stage.right - 60)
    guided = painter.paint(scene)[rows, columns].copy()
    plain = painter.paint(replace(scene, show_guides=False))[rows, columns].copy()
    light = luminance(guided)
    changed = (guided != plain).any(axis=2)
    rim = changed & (light < 0.01)
    body = changed & (light > 0.1)
    assert rim.sum() > 500
    assert body.sum() > 1000
    assert ratio(float(np.percentile(light[body], 20)), float(np.median(light[rim]))) >= MARK
    # A rim lies around every mark: hardly a spot of a mark is without one close by.
    close = cv2.dilate(rim.astype(np.uint8), np.ones((23, 23), np.uint8)).astype(bool)
    assert (body & ~close).sum() <= 0.02 * body.sum()


# --- colour vision ------------------------------------------------------------------------------


def apart(one: NDArray[np.float64], two: NDArray[np.float64]) -> int:
    """How many pixels of two pictures differ in lightness by 3 to 1 or more, as they are seen."""
    return int((np.maximum(one, two) + 0.05 >= MARK * (np.minimum(one, two) + 0.05)).sum())


def least_apart(images: dict[Any, Image], vision: str) -> int:
    """The fewest such pixels between any two of some pictures."""
    lights = [luminance(image, vision) for image in images.values()]
    return min(apart(one, two) for number, one in enumerate(lights) for two in lights[number + 1 :])


@pytest.fixture(scope="module")
def marks(painter: Painter, make: SimpleNamespace) -> dict[Any, Image]:
    """The belt round a landing of each verdict, without the verdict's word."""
    lay = painter._layout
    x = lay.stage.middle[0]
    rows, columns = slice(lay.belt_y - 30, lay.belt_y + lay.deck), slice(x - 240, x + 240)
    return {
        verdict: painter.paint(
            make.scene(landings=(make.mark(verdict),), leg_near_px=None, leg_far_px=None)
        )[rows, columns].copy()
        for verdict in ("within", "ahead", None)
    }


@pytest.fixture(scope="module")
def signs(painter: Painter, make: SimpleNamespace) -> dict[Any, Image]:
    """The left wing of each state: the sign, not the sentence."""
    wing = painter._layout.corner(right=False)
    return {
        state: painter.paint(
            make.scene(state=state, felt=FeltStatus() if state == "felt" else None)
        )[wing.y : wing.bottom, wing.x : wing.right].copy()
        for state in get_args(State)
    }


@pytest.mark.parametrize("vision", VISIONS)
def test_verdicts_are_told_apart_without_their_words(marks: dict[Any, Image], vision: str) -> None:
    """By lightness alone, so also in grey: shape and place differ, not the hue only."""
    assert least_apart(marks, vision) >= 150, "as much as a square of 12 pixels"


@pytest.mark.parametrize("vision", VISIONS)
def test_states_are_told_apart_without_their_sentence(signs: dict[Any, Image], vision: str) -> None:
    """Each state has a shape of its own."""
    assert least_apart(signs, vision) >= 400


@pytest.mark.parametrize("vision", VISIONS)
def test_the_trail_tells_its_landings_apart(
    painter: Painter, make: SimpleNamespace, vision: str
) -> None:
    trail = make.scene().trail
    column = painter._layout.column(right=True)
    rows, columns = slice(column.y, column.bottom), slice(column.x, column.right)
    images = {}
    for verdict in ("within", "ahead", None):
        marks = tuple(replace(mark, verdict=verdict) for mark in trail)
        images[verdict] = painter.paint(make.scene(trail=marks, landings=()))[rows, columns].copy()
    assert least_apart(images, vision) >= 60
