"""The guides on the picture: legs, belt, and where each foot came down against its knee.

A landing's marks stay exactly where the foot landed and fade within about one step.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from station.coach.scene import LandingMark, Scene
from station.show import shapes
from station.show.fade import Fader
from station.show.layout import Layout
from station.show.mirror import Mirror
from station.show.palette import (
    AHEAD,
    INK,
    LEG_FAR,
    LEG_NEAR,
    PLUMB,
    UNKNOWN,
    WITHIN,
    ZONE,
    Colour,
)
from station.show.text import Align, TextBook
from station.show.wording import Wording
from station.values import Floats, Verdict

Image = NDArray[np.uint8]
STEP_S = 0.36
"""Taken for a step's duration while no step rate is known (167 steps a minute)."""
FADE_STEPS = 1.15
"""A mark is gone this many steps after its contact, so that two feet hardly overlap."""


def verdict_colour(verdict: Verdict | None) -> Colour:
    """Return the colour that goes with a verdict's shape."""
    if verdict is None:
        return UNKNOWN
    return WITHIN if verdict == "within" else AHEAD


def step_s(scene: Scene) -> float:
    """Return the duration of one step at the present rate, seconds."""
    rate = scene.rhythm.step_rate_spm if scene.rhythm else None
    return 60.0 / rate if rate and rate > 60.0 else STEP_S


def strength(mark: LandingMark, step_duration_s: float) -> float:
    """Return how strongly a landing is painted, 1 at first, 0 once it is over."""
    share = mark.age_s / (FADE_STEPS * step_duration_s)
    if share < 0.0 or share >= 1.0:
        return 0.0
    return 1.0 if share < 0.55 else (1.0 - share) / 0.45


def ahead_on_screen(scene: Scene) -> float:
    """Return +1 where ahead of the runner is to the right on the screen, -1 to the left.

    Facing right in the camera's image is facing left on the mirrored screen.
    """
    if scene.view is not None:
        return -1.0 if scene.view.faces == "right" else 1.0
    for mark in scene.landings:
        if mark.toe_px[0] != mark.heel_px[0]:
            return -1.0 if mark.toe_px[0] > mark.heel_px[0] else 1.0
    return 1.0


class Guides:
    """Paints the guides of one scene. Used by one thread."""

    def __init__(self, layout: Layout, text: TextBook, words: Wording) -> None:
        """Keep the tools and make the scratch buffer for fading."""
        self._layout = layout
        self._text = text
        self._fader = Fader(layout.width, layout.height)
        self._ahead_word = words.label("ahead").upper()

    def paint(self, screen: Image, scene: Scene, mirror: Mirror) -> None:
        """Paint belt, legs and fresh landings into the screen."""
        self._belt(screen, scene, mirror)
        # With the picture off the lines are all there is of the runner: draw them bolder.
        near, far = (4, 2) if scene.show_view and scene.frame is not None else (8, 4)
        self._leg(screen, scene.leg_far_px, mirror, LEG_FAR, far)
        self._leg(screen, scene.leg_near_px, mirror, LEG_NEAR, near)
        facing = ahead_on_screen(scene)
        duration_s = step_s(scene)
        for mark in sorted(scene.landings, key=lambda m: -m.age_s):
            opacity = strength(mark, duration_s)
            if opacity > 0.0:
                self._landing(screen, mark, mirror, facing, opacity)

    def _belt(self, screen: Image, scene: Scene, mirror: Mirror) -> None:
        if scene.view is None:
            return
        ends = belt_on_screen(scene, mirror)
        shapes.line(screen, ends[0], ends[1], UNKNOWN, self._layout.px(2), self._layout.px(1))

    def _leg(
        self, screen: Image, leg: Floats | None, mirror: Mirror, colour: Colour, design_wide: int
    ) -> None:
        if leg is None:
            return
        points = mirror.point(leg)
        wide = self._layout.px(design_wide)
        for start, end in pairwise(points):
            if shapes.known(start, end):
                shapes.line(screen, start, end, colour, wide, self._layout.px(2))
        for joint in points[1:3]:
            if shapes.known(joint):
                shapes.disc(screen, joint, wide * 1.6 + 1.0, colour, 2)

    def _landing(
        self, screen: Image, mark: LandingMark, mirror: Mirror, facing: float, opacity: float
    ) -> None:
        knee, plumb, ankle = (
            mirror.point(p) for p in (mark.knee_px, mark.plumb_px, mark.ankle_on_belt_px)
        )
        heel, toe = mirror.point(mark.heel_px), mirror.point(mark.toe_px)
        if not shapes.known(knee, plumb, ankle):
            return
        limit = None if mark.limit_px is None else mirror.point(mark.limit_px)
        word_at = self._word_place(toe if shapes.known(toe) else ankle, facing)
        reach = [knee, plumb, ankle, word_at[0], word_at[1]]
        reach += [p for p in (heel, toe, limit) if p is not None and shapes.known(p)]
        margin = self._layout.px(44)
        with self._fader.over(screen, reach, margin, opacity) as (layer, shift):
            moved = [p - shift for p in (knee, plumb, ankle)]
            self._zone(layer, moved[1], None if limit is None else limit - shift, facing)
            self._plumb(layer, moved[0], moved[1])
            self._shoe(layer, heel - shift, toe - shift, mark.verdict)
            if mark.verdict == "ahead" and limit is not None:
                self._way_back(layer, moved[2], limit - shift)
            size = self._layout.px(15)
            colour = verdict_colour(mark.verdict)
            shapes.verdict_mark(layer, moved[2], size, mark.verdict, colour, (-facing, 0.0))
            if mark.verdict == "ahead":
                at = word_at[0] - shift
                where = (round(float(at[0])), round(float(at[1])))
                align = "left" if facing > 0 else "right"
                self._sign(layer, where, facing, align == "left")

    def _zone(self, layer: Image, plumb: Floats, limit: Floats | None, facing: float) -> None:
        """Paint the stretch of belt that the ankle's plumb may fall on: a trough with a stop."""
        if limit is None:
            return
        deep = self._layout.px(7)
        under = np.array([0.0, self._layout.px(12)])  # on the belt's face, clear of the shoe
        start = plumb + under - np.array([facing * self._layout.px(60), 0.0])
        shapes.line(layer, start, limit + under, ZONE, deep, 2)
        post = np.array([0.0, self._layout.px(34)])
        shapes.line(layer, limit - post, limit + under, ZONE, self._layout.px(6), 2)

    def _plumb(self, layer: Image, knee: Floats, plumb: Floats) -> None:
        shapes.line(layer, knee, plumb, PLUMB, self._layout.px(3), 2)
        shapes.disc(layer, knee, self._layout.px(9), PLUMB, 3)
        bob = self._layout.px(8)
        shapes.polygon(
            layer,
            [(plumb[0] - bob, plumb[1] - 2 * bob), (plumb[0] + bob, plumb[1] - 2 * bob),
             (plumb[0], plumb[1])],
            PLUMB, 0, 2,
        )  # fmt: skip

    def _shoe(self, layer: Image, heel: Floats, toe: Floats, verdict: Verdict | None) -> None:
        """Paint the sole where it landed: a solid bar within, a hollow one ahead."""
        if not shapes.known(heel, toe):
            return
        wide = self._layout.px(10)
        shapes.line(layer, heel, toe, verdict_colour(verdict), wide, 3)
        if verdict == "ahead":
            shapes.line(layer, heel, toe, INK, max(2, wide - self._layout.px(6)), 0)

    def _way_back(self, layer: Image, ankle: Floats, limit: Floats) -> None:
        """Paint the stretch from the ankle's mark back to the limit, where there is room for it."""
        gap = limit - ankle
        far, mark = float(np.hypot(gap[0], gap[1])), self._layout.px(24)
        if far <= mark:
            return
        ankle = ankle + gap * (mark / far)
        shapes.dashes(layer, ankle, limit, PLUMB, self._layout.px(3), self._layout.px(6))

    def _word_place(self, toe: Floats, facing: float) -> tuple[Floats, Floats]:
        """Return both ends of the word's baseline: free belt ahead of the shoe."""
        icon = self._layout.loud
        wide = self._text.width(self._ahead_word, self._layout.loud) + icon + self._layout.px(26)
        low = toe[1] - self._layout.px(26)
        near = toe[0] + facing * self._layout.px(34)
        room = self._layout.width - 1.0 - self._layout.px(10)
        far = min(max(near + facing * wide, self._layout.px(10)), room)
        return np.array([far - facing * wide, low]), np.array([far, low - self._layout.loud])

    def _sign(self, layer: Image, at: tuple[int, int], facing: float, right: bool) -> None:
        """Paint the word for ahead, led by a wedge that points back at the shoe."""
        cap = self._layout.loud
        middle = at[1] - cap / 2.0
        tip = (at[0] + facing * cap * 0.45, middle)
        shapes.polygon(layer, shapes.triangle(tip, cap * 0.62, (-facing, 0.0)), AHEAD, 5, 4)
        pen = (round(at[0] + facing * cap * 1.3), at[1])
        align: Align = "left" if right else "right"
        self._text.draw(layer, self._ahead_word, pen, cap, AHEAD, align, self._layout.px(4))


def belt_on_screen(scene: Scene, mirror: Mirror) -> Floats:
    """Return (2, 2): the belt's line across the picture, screen pixels, left end first."""
    view = scene.view
    if view is None:
        raise ValueError("a scene without a view has no belt line")
    rise = math.radians(view.belt_rise_deg)
    along = np.array([math.cos(rise), math.sin(rise)])
    points = mirror.point(view.to_image(np.stack([-along, along])))
    (x0, y0), (x1, y1) = points
    slope = 0.0 if abs(x1 - x0) < 1e-9 else (y1 - y0) / (x1 - x0)
    right = mirror.screen[0] - 1.0
    return np.array([[0.0, y0 - slope * x0], [right, y0 + slope * (right - x0)]])
