"""Paint the simulated runner on the treadmill, good enough for the real pose model to follow.

The pose model works on these pixels as on a camera's: shaded limbs, a face in profile, running
kit and shoes. The far limbs are drawn much darker, which helps the model (and a person) to tell
the legs apart: at 0.55 of the brightness it all but stops swapping them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from station.simulate import limbs
from station.simulate.brush import Brush, Colour, tinted
from station.simulate.figure import Arm, Figure, Leg
from station.simulate.footwear import ShoeColours, paint_shoe
from station.simulate.head import paint_head
from station.simulate.room import draw_belt_marks, draw_room, draw_shadow
from station.values import Facing, View, other

DEMO_PX_PER_M = 310.0
_DEMO_WIDTH, _DEMO_HEIGHT = 1280, 720
_DEMO_BELT_Y = 650.0


def demo_view(
    width: int = _DEMO_WIDTH,
    height: int = _DEMO_HEIGHT,
    faces: Facing = "right",
    crop_above_belt_m: float | None = None,
    incline_percent: float = 0.0,
) -> View:
    """Return the demo camera's view: the runner's side, mid-belt, whole head up to 2.0 m tall.

    Args:
        width: Image width in pixels.
        height: Image height in pixels; the scale follows the smaller of the two.
        faces: Which way the runner faces; the camera stands at that side of the runner.
        crop_above_belt_m: Aim the camera so high that the image ends this far above the belt
            (0.45 hides the lower legs); None: the belt is in the picture.
        incline_percent: The treadmill's incline.
    """
    scale = min(width / _DEMO_WIDTH, height / _DEMO_HEIGHT)
    if width * 3 <= height * 4 + 2:  # a narrow picture still holds the treadmill's length
        scale = height / _DEMO_HEIGHT
    px_per_m = DEMO_PX_PER_M * scale
    belt_y = height - (_DEMO_HEIGHT - _DEMO_BELT_Y) * scale
    if crop_above_belt_m is not None:
        belt_y = height + crop_above_belt_m * px_per_m
    rise_deg = float(np.degrees(np.arctan(incline_percent / 100.0)))
    return View(px_per_m, faces, (width / 2.0, belt_y), 0.0, rise_deg)


@dataclass(frozen=True, slots=True)
class PictureOptions:
    """What may be wrong with the picture, for tests of trouble."""

    light: float = 1.0
    """Factor on every brightness; 0.25 is a dim room."""
    exposure_s: float = 0.0
    """How long the shutter is open: what moves is smeared. 0: sharp."""
    hide_below_m: float | None = None
    """A panel before the treadmill hides all that is lower than this over the belt."""
    runner: bool = True
    """False: the belt is empty."""
    noise: float = 0.0
    """Standard deviation of the sensor's noise, grey levels."""
    seed: int = 0
    """Of the noise."""


@dataclass(frozen=True, slots=True)
class _Look:
    skin: Colour
    shirt: Colour
    shorts: Colour
    hair: Colour
    sock: Colour
    shoe: ShoeColours


_NEAR = _Look(
    skin=(142, 174, 222),
    shirt=(60, 60, 196),
    shorts=(62, 46, 38),
    hair=(38, 48, 66),
    sock=(236, 236, 236),
    shoe=ShoeColours((196, 110, 40), (236, 236, 236), (240, 240, 240), (70, 70, 70)),
)


def _darker(look: _Look, factor: float) -> _Look:
    shoe = look.shoe
    return _Look(
        skin=tinted(look.skin, factor),
        shirt=tinted(look.shirt, factor),
        shorts=tinted(look.shorts, factor),
        hair=tinted(look.hair, factor),
        sock=tinted(look.sock, factor),
        shoe=ShoeColours(
            upper=tinted(shoe.upper, factor),
            stripe=tinted(shoe.stripe, factor),
            midsole=tinted(shoe.midsole, factor),
            outsole=tinted(shoe.outsole, factor),
        ),
    )


_FAR = _darker(_NEAR, 0.55)


class Painter:
    """Paints figures into pictures of one view and size. Used by one thread."""

    def __init__(
        self, view: View, width: int, height: int, options: PictureOptions | None = None
    ) -> None:
        """Draw the room once.

        Args:
            view: How the bay lies in the image.
            width: Image width in pixels.
            height: Image height in pixels.
            options: Light, noise and what is hidden; None: a clear picture.
        """
        self.view = view
        self.width = width
        self.height = height
        self.options = options or PictureOptions()
        self.others: tuple[Figure, ...] = ()
        """Who else is in the picture, behind the runner."""
        self._room = draw_room(view, width, height, self.options.light)
        self._noise = _Noise(self.options, width, height) if self.options.noise > 0.0 else None

    def paint(self, *figures: Figure) -> NDArray[np.uint8]:
        """Return a new picture, (height, width, 3) BGR; the caller owns it.

        Args:
            figures: The runner during the exposure, in order of time; several are averaged
                (motion blur), one gives a sharp picture.
        """
        if not figures:
            raise ValueError("a picture needs at least one figure")
        image = self._sharp(figures[0])
        if len(figures) > 1:
            total = image.astype(np.uint16)
            for figure in figures[1:]:
                cv2.add(total, self._sharp(figure), total, dtype=cv2.CV_16U)
            image = np.rint(total / len(figures)).astype(np.uint8)
        if self.options.hide_below_m is not None:
            self._hide(image, self.options.hide_below_m)
        if self._noise is not None:
            self._noise.add(image)
        return image

    def _sharp(self, figure: Figure) -> NDArray[np.uint8]:
        image = self._room.copy()
        brush = Brush(image, self.view, self.options.light)
        draw_belt_marks(brush, self.view, figure.belt_travel_m)
        for other_one in self.others:
            paint_runner(brush, other_one, self.view)
        if self.options.runner:
            for leg in figure.legs.values():
                draw_shadow(brush, self.view, leg.sole_heel, leg.sole_toe)
            paint_runner(brush, figure, self.view)
            self._soften(image, figure)
        return image

    def _soften(self, image: NDArray[np.uint8], figure: Figure) -> None:
        """Blur the runner's box a little, as a lens does: the shading's bands melt together."""
        points = [p for leg in figure.legs.values() for p in (leg.knee, leg.heel, leg.toe)]
        points += [p for arm in figure.arms.values() for p in (arm.elbow, arm.wrist)]
        xy = self.view.to_image(np.stack([*points, figure.head, figure.nose]))
        margin = 0.2 * self.view.px_per_m
        x0, y0 = np.clip(xy.min(0) - margin, 0, (self.width, self.height)).astype(int)
        x1, y1 = np.clip(xy.max(0) + margin, 0, (self.width, self.height)).astype(int)
        if x1 > x0 and y1 > y0:
            part = image[y0:y1, x0:x1]
            cv2.blur(part, (3, 3), dst=part)

    def _hide(self, image: NDArray[np.uint8], below_m: float) -> None:
        half_m = self.width / self.view.px_per_m
        panel = np.array([(-half_m, -2.0), (half_m, -2.0), (half_m, below_m), (-half_m, below_m)])
        Brush(image, self.view, self.options.light).polygon(panel, (128, 124, 118))


def paint_runner(brush: Brush, figure: Figure, view: View) -> None:
    """Paint the runner, the far limbs first.

    Args:
        brush: What to paint with.
        figure: Where the joints are.
        view: Tells which side is near.
    """
    scale = figure.height_m / limbs.REFERENCE_HEIGHT_M
    near, far = view.near_side, other(view.near_side)
    shoulder = (figure.arms["left"].shoulder + figure.arms["right"].shoulder) / 2.0
    hip = (figure.legs["left"].hip + figure.legs["right"].hip) / 2.0
    _paint_arm(brush, figure.arms[far], _FAR, scale)
    _paint_leg(brush, figure.legs[far], _FAR, scale)
    limbs.paint_limb(brush, shoulder, figure.head, limbs.NECK_UP, tinted(_NEAR.skin, 0.84), scale)
    paint_head(brush, figure.head, figure.nose, _NEAR.skin, _NEAR.hair, scale)
    limbs.paint_limb(brush, shoulder, hip, limbs.TRUNK, _NEAR.shirt, scale)
    _paint_leg(brush, figure.legs[near], _NEAR, scale)
    _paint_arm(brush, figure.arms[near], _NEAR, scale)


def _paint_arm(brush: Brush, arm: Arm, look: _Look, scale: float) -> None:
    paint = limbs.paint_limb
    paint(brush, arm.shoulder, arm.elbow, limbs.UPPER_ARM, look.skin, scale)
    paint(brush, arm.elbow, arm.wrist, limbs.FOREARM, look.skin, scale)
    paint(brush, arm.elbow, arm.wrist, limbs.HAND, look.skin, scale)
    paint(brush, arm.shoulder, arm.elbow, limbs.SLEEVE, look.shirt, scale)


def _paint_leg(brush: Brush, leg: Leg, look: _Look, scale: float) -> None:
    paint = limbs.paint_limb
    paint(brush, leg.hip, leg.knee, limbs.THIGH, look.skin, scale)
    paint(brush, leg.knee, leg.ankle, limbs.SHANK, look.skin, scale)
    _paint_kneecap(brush, leg, look.skin, scale)
    paint(brush, leg.knee, leg.ankle, limbs.SOCK, look.sock, scale)
    paint_shoe(brush, leg, look.shoe, scale)
    paint(brush, leg.hip, leg.knee, limbs.SHORTS_LEG, look.shorts, scale)


def _paint_kneecap(brush: Brush, leg: Leg, skin: Colour, scale: float) -> None:
    """Round the joint off and light the kneecap before it: the knee's landmark."""
    ahead, up = (leg.ankle - leg.hip).tolist()
    unit = scale / (math.hypot(ahead, up) or 1e-6)
    axes = np.array([(ahead, up), (-up, ahead)]) * unit
    brush.shape(limbs.KNEE, leg.knee, axes, skin)


class _Noise:
    """Seeded sensor noise, taken from one tile at a new place in each picture."""

    def __init__(self, options: PictureOptions, width: int, height: int) -> None:
        self._random = np.random.default_rng(options.seed)
        spare = 64
        tile = self._random.normal(0.0, options.noise, (height + spare, width + spare, 3))
        self._plus = np.clip(np.rint(tile), 0, 255).astype(np.uint8)
        self._minus = np.clip(np.rint(-tile), 0, 255).astype(np.uint8)
        self._spare = spare

    def add(self, image: NDArray[np.uint8]) -> None:
        """Add noise to the picture in place."""
        y, x = self._random.integers(0, self._spare, 2)
        height, width = image.shape[:2]
        place = (slice(y, y + height), slice(x, x + width))
        cv2.add(image, self._plus[place], image)
        cv2.subtract(image, self._minus[place], image)
