"""The few shapes that carry a meaning, each on a dark halo so that it stands on any picture.

Points are screen pixels, floats; OpenCV draws them at 1/16 pixel with smooth edges.
"""

from __future__ import annotations

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from station.show.palette import INK, UNKNOWN, Colour
from station.values import Floats, Verdict

Image = NDArray[np.uint8]
Point = tuple[float, float] | Floats
_SHIFT = 4
_ONE = 1 << _SHIFT


def _fixed(point: Point) -> tuple[int, int]:
    return round(float(point[0]) * _ONE), round(float(point[1]) * _ONE)


def _fixed_all(points: list[tuple[float, float]]) -> NDArray[np.int32]:
    return np.array([_fixed(p) for p in points], np.int32).reshape(-1, 1, 2)


def known(*points: Point | None) -> bool:
    """Return whether every point is given and finite."""
    return all(p is not None and math.isfinite(p[0]) and math.isfinite(p[1]) for p in points)


def line(screen: Image, start: Point, end: Point, colour: Colour, wide: int, halo: int = 3) -> None:
    """Draw a line with a halo of `halo` pixels on each side (0: none)."""
    a, b = _fixed(start), _fixed(end)
    if halo:
        cv2.line(screen, a, b, INK, wide + 2 * halo, cv2.LINE_AA, _SHIFT)
    cv2.line(screen, a, b, colour, wide, cv2.LINE_AA, _SHIFT)


def dashes(screen: Image, start: Point, end: Point, colour: Colour, wide: int, dash: float) -> None:
    """Draw a dashed line; dash and gap are `dash` pixels each."""
    length = math.hypot(end[0] - start[0], end[1] - start[1])
    if length < 1.0:
        return
    along = ((end[0] - start[0]) / length, (end[1] - start[1]) / length)
    at = 0.0
    while at < length:
        stop = min(at + dash, length)
        line(
            screen,
            (start[0] + along[0] * at, start[1] + along[1] * at),
            (start[0] + along[0] * stop, start[1] + along[1] * stop),
            colour, wide, 2,
        )  # fmt: skip
        at += 2.0 * dash


def disc(screen: Image, centre: Point, radius: float, colour: Colour, halo: int = 3) -> None:
    """Draw a filled disc."""
    at = _fixed(centre)
    if halo:
        cv2.circle(screen, at, round((radius + halo) * _ONE), INK, -1, cv2.LINE_AA, _SHIFT)
    cv2.circle(screen, at, round(radius * _ONE), colour, -1, cv2.LINE_AA, _SHIFT)


def ring(screen: Image, centre: Point, radius: float, colour: Colour, wide: int) -> None:
    """Draw a circle's outline."""
    cv2.circle(screen, _fixed(centre), round(radius * _ONE), colour, wide, cv2.LINE_AA, _SHIFT)


def arc(
    screen: Image, centre: Point, radius: float, share: float, colour: Colour, wide: int
) -> None:
    """Draw a circle's outline from the top clockwise, as much as `share` (0 to 1) of it."""
    end = 360.0 * min(max(share, 0.0), 1.0)
    if end <= 0.0:
        return
    axes = (round(radius * _ONE), round(radius * _ONE))
    cv2.ellipse(screen, _fixed(centre), axes, -90.0, 0.0, end, colour, wide, cv2.LINE_AA, _SHIFT)


def polygon(
    screen: Image, points: list[tuple[float, float]], colour: Colour, wide: int, halo: int = 3
) -> None:
    """Draw a closed outline `wide` pixels thick, or a filled shape for `wide` of 0."""
    fixed = _fixed_all(points)
    if halo:
        cv2.polylines(screen, [fixed], True, INK, wide + 2 * halo, cv2.LINE_AA, _SHIFT)
    if wide:
        cv2.polylines(screen, [fixed], True, colour, wide, cv2.LINE_AA, _SHIFT)
    else:
        cv2.fillPoly(screen, [fixed], colour, cv2.LINE_AA, _SHIFT)


def chain(screen: Image, points: list[tuple[float, float]], colour: Colour, wide: int) -> None:
    """Draw an open run of lines without a halo."""
    cv2.polylines(screen, [_fixed_all(points)], False, colour, wide, cv2.LINE_AA, _SHIFT)


def triangle(centre: Point, size: float, towards: tuple[float, float]) -> list[tuple[float, float]]:
    """Return an even triangle whose centroid is `centre` and whose tip points `towards`.

    Args:
        centre: Screen pixels.
        size: From the centroid to a corner, pixels.
        towards: Direction of the tip, (x, y) on the screen, any length but 0.
    """
    start = math.atan2(towards[1], towards[0])
    return [
        (
            float(centre[0]) + size * math.cos(start + k * math.tau / 3.0),
            float(centre[1]) + size * math.sin(start + k * math.tau / 3.0),
        )
        for k in range(3)
    ]


def verdict_mark(
    screen: Image,
    centre: Point,
    size: float,
    verdict: Verdict | None,
    colour: Colour,
    back: tuple[float, float],
) -> None:
    """Draw the sign of a verdict, its centroid at `centre`.

    within: a filled round peg. ahead: a hollow wedge that points back. None: a small dash.

    Args:
        screen: Changed in place.
        centre: Screen pixels.
        size: About half its width, pixels.
        verdict: What it says.
        colour: BGR of the within or ahead sign; the dash has its own.
        back: Towards the runner's back on the screen.
    """
    if verdict == "within":
        disc(screen, centre, size, colour)
    elif verdict == "ahead":
        wide = max(2, round(size * 0.34))
        polygon(screen, triangle(centre, size * 1.25, back), colour, wide)
    else:
        half = size * 0.6
        start = (float(centre[0]) - half, float(centre[1]))
        end = (float(centre[0]) + half, float(centre[1]))
        line(screen, start, end, UNKNOWN, max(2, round(size * 0.4)), 2)


def chevrons(screen: Image, centre: Point, size: float, up: bool, colour: Colour) -> None:
    """Draw two chevrons, one over the other, pointing up (faster) or down (slower)."""
    lift = -1.0 if up else 1.0
    wide = max(3, round(size * 0.3))
    for offset in (-0.45, 0.45):
        tip = (float(centre[0]), float(centre[1]) + size * (offset + 0.4 * lift))
        chain(
            screen,
            [(tip[0] - size * 0.85, tip[1] - lift * size * 0.7), tip,
             (tip[0] + size * 0.85, tip[1] - lift * size * 0.7)],
            colour, wide,
        )  # fmt: skip


def tick(screen: Image, centre: Point, size: float, colour: Colour) -> None:
    """Draw a tick: done, on target."""
    x, y = float(centre[0]), float(centre[1])
    points = [
        (x - size * 0.8, y),
        (x - size * 0.2, y + size * 0.6),
        (x + size * 0.9, y - size * 0.7),
    ]
    chain(screen, points, colour, max(3, round(size * 0.3)))


def bars(screen: Image, centre: Point, size: float, colour: Colour) -> None:
    """Draw two upright bars: paused."""
    x, y = float(centre[0]), float(centre[1])
    for side in (-1.0, 1.0):
        dx = x + side * size * 0.42
        line(screen, (dx, y - size * 0.7), (dx, y + size * 0.7), colour, round(size * 0.42), 0)


def hourglass(screen: Image, centre: Point, size: float, colour: Colour) -> None:
    """Draw an hourglass: rest, a wait that ends by itself."""
    x, y = float(centre[0]), float(centre[1])
    wide = max(3, round(size * 0.16))
    top, low = y - size * 0.9, y + size * 0.9
    for edge in (top, low):
        line(screen, (x - size * 0.75, edge), (x + size * 0.75, edge), colour, wide + 2, 0)
    half = size * 0.55
    chain(screen, [(x - half, top), (x, y), (x - half, low)], colour, wide)
    chain(screen, [(x + half, top), (x, y), (x + half, low)], colour, wide)
    grain = [(x - half * 0.8, low - wide), (x + half * 0.8, low - wide), (x, y + size * 0.3)]
    polygon(screen, grain, colour, 0, 0)


def barred(screen: Image, centre: Point, size: float, colour: Colour) -> None:
    """Draw a ring with a bar across: nothing was done."""
    x, y = float(centre[0]), float(centre[1])
    wide = max(2, round(size * 0.24))
    ring(screen, centre, size, colour, wide)
    line(screen, (x - size * 0.6, y), (x + size * 0.6, y), colour, wide, 0)


def sole(
    screen: Image, centre: Point, size: float, left: bool, filled: bool, colour: Colour
) -> None:
    """Draw the print of a left or right shoe, toes up; an outline where it is not filled.

    Args:
        screen: Changed in place.
        centre: Screen pixels.
        size: Half its length, pixels.
        left: A left shoe: its inner side is to the right.
        filled: Whether it is the one that is meant.
        colour: BGR.
    """
    inner = 1.0 if left else -1.0
    x, y = float(centre[0]), float(centre[1])
    # Half an outline each: the outer side bulges at the ball, the inner one is hollow at the arch.
    outline = [
        (0.05, -1.0), (0.34, -0.88), (0.44, -0.5), (0.34, -0.1), (0.22, 0.25), (0.28, 0.7),
        (0.14, 0.96), (-0.12, 0.98), (-0.3, 0.74), (-0.34, 0.3), (-0.42, -0.15), (-0.42, -0.55),
        (-0.22, -0.88),
    ]  # fmt: skip
    points = [(x + inner * size * a, y + size * b) for a, b in outline]
    polygon(screen, points, colour, 0 if filled else max(2, round(size * 0.08)), 3)


def arrow(screen: Image, centre: Point, size: float, up: bool, colour: Colour) -> None:
    """Draw a thick arrow up (set more) or down (set less)."""
    x, y = float(centre[0]), float(centre[1])
    lift = -1.0 if up else 1.0
    polygon(
        screen,
        [(x, y + lift * size), (x + size * 0.8, y + lift * size * 0.1),
         (x + size * 0.3, y + lift * size * 0.1), (x + size * 0.3, y - lift * size),
         (x - size * 0.3, y - lift * size), (x - size * 0.3, y + lift * size * 0.1),
         (x - size * 0.8, y + lift * size * 0.1)],
        colour, 0, 0,
    )  # fmt: skip


def warning(screen: Image, centre: Point, size: float, colour: Colour) -> None:
    """Draw an upright triangle with a stroke and a dot in it."""
    x, y = float(centre[0]), float(centre[1])
    polygon(screen, triangle((x, y + size * 0.2), size * 1.15, (0.0, -1.0)), colour, 0, 0)
    line(screen, (x, y - size * 0.3), (x, y + size * 0.28), INK, max(3, round(size * 0.2)), 0)
    disc(screen, (x, y + size * 0.58), max(2.0, size * 0.13), INK, 0)
