"""The guides on the picture: the belt as a ruler, and where each foot came down on it.

A landing's marks stay exactly where the foot landed and are gone before the other foot comes down.
Its word stands under the belt (`landing_word.py`).
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from station.coach.scene import LandingMark, Scene
from station.show import shapes
from station.show.landing_word import LandingWord
from station.show.layout import Box, Layout
from station.show.mirror import Mirror
from station.show.overlay import Overlay
from station.show.palette import (
    INK,
    LEG_FAR,
    LEG_NEAR,
    PLUMB,
    UNKNOWN,
    ZONE,
    Colour,
    verdict_colour,
)
from station.show.panel import fill
from station.show.text import TextBook
from station.show.wording import Wording
from station.values import Floats, Verdict, View

Image = NDArray[np.uint8]
STEP_S = 0.36
"""Taken for a step's duration while no step rate is known (167 steps a minute)."""
FADE_STEPS = 0.85
"""A mark is gone so many steps after its contact: before the other foot comes down there."""
WORD_STEPS = 1.0
"""Its word under the belt, which names the foot, has to be read: it stays until that contact."""
_FULL = 0.6  # of its time a mark or word is at full strength


def step_s(scene: Scene) -> float:
    """Return the duration of one step at the present rate, seconds."""
    rate = scene.rhythm.step_rate_spm if scene.rhythm else None
    return 60.0 / rate if rate and rate > 60.0 else STEP_S


def strength(mark: LandingMark, step_duration_s: float, steps: float = FADE_STEPS) -> float:
    """Return how strongly a landing is painted, 1 at first, 0 once it is over.

    Args:
        mark: The landing.
        step_duration_s: One step at the present rate.
        steps: After how many of them it is over.
    """
    share = mark.age_s / (steps * step_duration_s)
    if share < 0.0 or share >= 1.0:
        return 0.0
    return 1.0 if share < _FULL else (1.0 - share) / (1.0 - _FULL)


def newest(scene: Scene) -> LandingMark | None:
    """Return the last landing while it is told of; one before it is over with its coming."""
    last = min(scene.landings, key=lambda m: m.age_s, default=None)
    if last is None or strength(last, step_s(scene), WORD_STEPS) <= 0.0:
        return None
    return last


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

    def __init__(self, layout: Layout, text: TextBook, words: Wording, legs: bool = False) -> None:
        """Keep the tools.

        Args:
            layout: Gives the sizes.
            text: Renders the words.
            words: Gives them.
            legs: Draw the legs' lines over the picture, too; without a picture they always are.
        """
        self._layout = layout
        self._legs = legs
        self._ruled: tuple[View, Mirror] | None = None
        self._ruler = Overlay()
        self._landed: tuple[object, ...] | None = None
        self._marks = Overlay()
        self._word = LandingWord(layout, text, words)

    def paint(self, screen: Image, scene: Scene, mirror: Mirror, word: bool = True) -> None:
        """Paint belt, legs and the fresh landing into the screen.

        Args:
            screen: Changed in place.
            scene: What is to be shown.
            mirror: Puts its points on the screen.
            word: Whether the landing's word has its place, which some states' floor covers.
        """
        self._belt(screen, scene, mirror)
        pictured = scene.show_view and scene.frame is not None
        if self._legs or not pictured:
            near, far = (3, 2) if pictured else (8, 4)
            self._leg(screen, scene.leg_far_px, mirror, LEG_FAR, far)
            self._leg(screen, scene.leg_near_px, mirror, LEG_NEAR, near)
        mark = newest(scene)
        if mark is None or not shapes.known(mark.plumb_px, mark.ankle_on_belt_px):
            return
        facing, duration_s = ahead_on_screen(scene), step_s(scene)
        near_leg = scene.view is None or mark.side == scene.view.near_side
        self._landing(screen, mark, mirror, facing, strength(mark, duration_s), near_leg)
        if word:
            silent = not (mark.told or scene.show_verdict)  # for the drill a wing says so, once
            opacity = strength(mark, duration_s, WORD_STEPS)
            self._word.paint(screen, mark, mirror, facing, opacity, silent)

    def _belt(self, screen: Image, scene: Scene, mirror: Mirror) -> None:
        """Paint the belt's line, with a short stroke every 10 cm and a longer one every half.

        It is drawn once for each view and way the picture lies, and then only laid.
        """
        view = scene.view
        if view is None:
            return
        if (view, mirror) != self._ruled:
            self._ruled = view, mirror
            self._draw_ruler(view, mirror, belt_on_screen(scene, mirror))
        self._ruler.lay(screen)

    def _draw_ruler(self, view: View, mirror: Mirror, ends: Floats) -> None:
        lay = self._layout
        stage, rim = lay.stage, lay.px(1)
        (x0, y0), (x1, y1) = ends
        slope = (y1 - y0) / (x1 - x0)
        start, end = ((float(x), y0 + slope * (x - x0)) for x in (stage.x, stage.right))
        heights = (start[1], end[1])
        top = max(stage.y, math.floor(min(heights)) - lay.px(4))
        low = min(stage.bottom, math.ceil(max(heights)) + lay.px(16))
        box = Box(stage.x, top, stage.w, low - top)
        strokes = self._strokes(view, mirror, start, slope)

        def ruler(image: Image) -> None:
            a, b = ((x - box.x, y - box.y) for x, y in (start, end))
            shapes.line(image, a, b, UNKNOWN, lay.px(2), rim)
            for s in strokes:
                mark = Box(s.x - box.x, s.y - box.y, s.w, s.h)
                fill(image, Box(mark.x - rim, mark.y, mark.w + 2 * rim, mark.h + rim), INK)
                fill(image, mark, UNKNOWN)

        self._ruler.draw(box, ruler)

    def _strokes(
        self, view: View, mirror: Mirror, start: tuple[float, float], slope: float
    ) -> list[Box]:
        """Return the ruler's strokes on the stage; none where they would stand too close."""
        lay = self._layout
        step_px = 0.1 * view.px_per_m * mirror.scale
        if step_px < 2.0 * lay.px(4):
            return []
        stage, wide = lay.stage, lay.px(2)
        zero = float(mirror.point(view.origin_px)[0])
        first, last = (math.ceil((e - zero) / step_px) for e in (stage.x, stage.right))
        marks = []
        for number in range(first, last):
            x = zero + number * step_px
            y = start[1] + slope * (x - start[0])
            deep = lay.px(11 if number % 5 == 0 else 6)
            marks.append(Box(round(x) - wide // 2, round(y), wide, deep))
        return marks

    def _leg(
        self, screen: Image, leg: Floats | None, mirror: Mirror, colour: Colour, design_wide: int
    ) -> None:
        if leg is None:
            return
        lit = self._layout.lit
        part = screen[lit.y : lit.bottom, lit.x : lit.right]
        points = mirror.point(leg) - (lit.x, lit.y)
        wide = self._layout.px(design_wide)
        for start, end in pairwise(points):
            if shapes.known(start, end):
                shapes.line(part, start, end, colour, wide, self._layout.px(1))

    def _landing(
        self,
        screen: Image,
        mark: LandingMark,
        mirror: Mirror,
        facing: float,
        opacity: float,
        near: bool,
    ) -> None:
        """Lay a landing's marks, drawn once for as long as the landing is told of."""
        if opacity <= 0.0 or not shapes.known(mark.knee_px):
            return
        landed = (
            mark.side, mark.verdict, mark.knee_px, mark.heel_px, mark.toe_px, mark.plumb_px,
            mark.limit_px, mark.ankle_on_belt_px, mirror, facing, near,
        )  # fmt: skip
        if landed != self._landed:
            self._landed = landed
            box = self._reach(mark, mirror)

            def marks(image: Image) -> None:
                shift = np.array([box.x, box.y], dtype=np.float64)
                self.marks(image, mark, mirror, facing, near, shift)

            self._marks.draw(box, marks)
        self._marks.lay(screen, opacity)

    def _reach(self, mark: LandingMark, mirror: Mirror) -> Box:
        """Return what of the stage a landing's marks may touch."""
        points = [mark.knee_px, mark.plumb_px, mark.ankle_on_belt_px, mark.heel_px, mark.toe_px]
        points += [] if mark.limit_px is None else [mark.limit_px]
        shown = np.stack([mirror.point(p) for p in points if shapes.known(p)])
        lit, margin = self._layout.lit, self._layout.px(64)
        x0, y0 = np.floor(shown.min(axis=0) - margin).clip((lit.x, lit.y), (lit.right, lit.bottom))
        x1, y1 = np.ceil(shown.max(axis=0) + margin).clip((lit.x, lit.y), (lit.right, lit.bottom))
        return Box(int(x0), int(y0), int(x1 - x0), int(y1 - y0))

    def marks(
        self,
        layer: Image,
        mark: LandingMark,
        mirror: Mirror,
        facing: float,
        near: bool,
        shift: Floats,
    ) -> None:
        """Paint a landing without its word: zone, plumb line, sole, and the ankle's mark.

        Args:
            layer: Changed in place.
            mark: The landing.
            mirror: Puts its points on the screen.
            facing: +1 where ahead is to the right on the screen, -1 to the left.
            near: Whether it is the near leg's; the far one's is smaller and its plumb line broken.
            shift: What to subtract from screen points to be on the layer.
        """
        knee, plumb, ankle, heel, toe = (
            mirror.point(p) - shift
            for p in (
                mark.knee_px, mark.plumb_px, mark.ankle_on_belt_px, mark.heel_px, mark.toe_px
            )
        )  # fmt: skip
        limit = None if mark.limit_px is None else mirror.point(mark.limit_px) - shift
        self._zone(layer, plumb, limit, facing)
        self._plumb(layer, knee, plumb, near)
        self._shoe(layer, heel, toe, mark.verdict, near)
        size = self._layout.px(17 if near else 13)
        colour = verdict_colour(mark.verdict)
        shapes.verdict_mark(layer, ankle, size, mark.verdict, colour, (-facing, 0.0))

    def _zone(self, layer: Image, plumb: Floats, limit: Floats | None, facing: float) -> None:
        """Paint the stretch of belt that the ankle's plumb may fall on: a trough with a stop."""
        if limit is None:
            return
        px = self._layout.px
        under = np.array([0.0, px(9)])  # on the belt's face, clear of the shoe
        start = plumb + under - np.array([facing * px(60), 0.0])
        shapes.line(layer, start, limit + under, ZONE, px(8), 2)
        shapes.line(layer, limit - (0.0, px(12)), limit + under, ZONE, px(6), 2)

    def _plumb(self, layer: Image, knee: Floats, plumb: Floats, near: bool) -> None:
        """Paint the knee's plumb line; the far leg's is thinner and broken."""
        px = self._layout.px
        if near:
            shapes.line(layer, knee, plumb, PLUMB, px(4), 2)
        else:
            shapes.dashes(layer, knee, plumb, PLUMB, px(2), px(9))
        shapes.disc(layer, knee, px(9 if near else 6), PLUMB, 3)
        bob = px(8)
        shapes.polygon(
            layer,
            [(plumb[0] - bob, plumb[1] - 2 * bob), (plumb[0] + bob, plumb[1] - 2 * bob),
             (plumb[0], plumb[1])],
            PLUMB, 0, 2,
        )  # fmt: skip

    def _shoe(
        self, layer: Image, heel: Floats, toe: Floats, verdict: Verdict | None, near: bool
    ) -> None:
        """Paint the sole where it landed: a solid bar within, a hollow one ahead."""
        if not shapes.known(heel, toe):
            return
        wide = self._layout.px(10 if near else 7)
        shapes.line(layer, heel, toe, verdict_colour(verdict), wide, 3)
        if verdict == "ahead":
            shapes.line(layer, heel, toe, INK, max(2, wide - self._layout.px(5)), 0)


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
