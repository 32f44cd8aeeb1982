"""Finds a thin line or an edge in a picture to a tenth of a pixel, and the camera's roll by it.

Points are image pixels with (0, 0) at the picture's upper left corner, so that a pixel's middle
lies at halves.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from station.values import Floats

Grey = NDArray[np.float32]
Kind = Literal["plumb", "level"]
Point = tuple[float, float]

MOST_ROLL_DEG = 20.0
"""As a bay profile allows; beyond it the camera is to be turned."""
_STATIONS = 200
_ENDS = 0.04
"""Share of the way left out at each end: there hang a knot and a weight."""
_LEAST_STATIONS = 24
_INLIER_PX = 1.0
_LEAST_SHARE = 0.6
"""Share of the places along a line at which it has to be seen."""
_RIDGE_PX = 4
"""A line this thin, and the wall on both sides of it, is told from an edge."""
_RIDGE_LEVELS = 12.0
_MOST_POINTS = 20000
_SEARCH_DEG = 10.0
"""No camera that somebody has tried to level is further off."""
_SEARCH_STEP_DEG = 0.2
_SHORTEST = 0.25
"""Least length of a line that is found by itself, as a share of the picture's height."""


@dataclass(frozen=True, slots=True)
class FoundLine:
    """A straight line in the picture."""

    start: Point
    end: Point
    spread_px: float
    """How far its places lie beside the straight line: the median."""
    seen: float
    """Share of the places along it at which it is seen."""

    @property
    def length_px(self) -> float:
        """From end to end."""
        return math.dist(self.start, self.end)

    @property
    def error_deg(self) -> float:
        """How uncertain its direction is: a line's worth of places, each off by the spread."""
        return math.degrees(max(self.spread_px, 0.1) / max(self.length_px, 1.0))


def grey_of(image: NDArray[np.uint8] | NDArray[np.uint16]) -> Grey:
    """Return the brightness of a (height, width, 3) BGR picture, 0 to 255; of a sum, the sum."""
    weights = np.array([0.114, 0.587, 0.299], np.float32)  # ITU-R BT.601
    return np.asarray(image.astype(np.float32) @ weights, np.float32)


def roll_of(start: Point, end: Point, kind: Kind) -> float:
    """Return the camera's roll, degrees: how far a level line runs downhill to the right.

    Args:
        start: One point, image pixels.
        end: Another, in any order.
        kind: `plumb`: the line hangs; `level`: it lies level.

    Returns:
        -90 to 90; a camera stands within some degrees of 0.
    """
    dx, dy = end[0] - start[0], end[1] - start[1]
    if kind == "plumb":
        if dy < 0.0:
            dx, dy = -dx, -dy
        return math.degrees(math.atan2(-dx, dy)) if dx or dy else 0.0
    if dx < 0.0:
        dx, dy = -dx, -dy
    return math.degrees(math.atan2(dy, dx)) if dx or dy else 0.0


def kind_of(start: Point, end: Point) -> Kind:
    """Return what two points were meant as: what is steeper than 45 degrees hangs."""
    return "plumb" if abs(end[1] - start[1]) > abs(end[0] - start[0]) else "level"


def line_near(grey: Grey, start: Point, end: Point, reach_px: float = 12.0) -> FoundLine | None:
    """Find the thin line or edge that two points were meant for.

    Args:
        grey: (height, width) brightness.
        start: About at one end, image pixels.
        end: About at the other.
        reach_px: How far beside the points it is looked for.

    Returns:
        The line from end to end; None: nothing straight is there.
    """
    length = math.dist(start, end)
    if length < 2.0 * reach_px:
        return None
    along = np.array([(end[0] - start[0]) / length, (end[1] - start[1]) / length])
    beside = np.array([-along[1], along[0]])
    s = np.linspace(_ENDS * length, (1.0 - _ENDS) * length, min(_STATIONS, int(length)))
    u = np.arange(-reach_px, reach_px + 0.25, 0.5)
    places = np.asarray(start) + s[:, None, None] * along + u[None, :, None] * beside
    profile = sampled(grey, places)
    profile = np.apply_along_axis(np.convolve, 1, profile, np.full(3, 1.0 / 3.0), "same")[:, 1:-1]
    u = u[1:-1]
    found = [
        fit
        for offsets in (_ridge_offsets(profile, u), _edge_offsets(profile, u))
        if (fit := _straight(s, offsets)) is not None
    ]
    if not found:
        return None
    slope, level, spread, share = min(found, key=lambda fit: fit[2] / fit[3])
    ends = [
        tuple((np.asarray(start) + t * along + (level + slope * t) * beside).tolist())
        for t in (0.0, length)
    ]
    return FoundLine(ends[0], ends[1], spread, share)


def find_plumb_line(grey: Grey) -> FoundLine | None:
    """Find a thin, long, nearly upright line by itself.

    Args:
        grey: (height, width) brightness; best the mean of some pictures, which is free of noise.

    Returns:
        The longest and clearest; None: there is none. Whether it is the plumb line only whoever
        has hung it can tell.
    """
    w = _RIDGE_PX
    middle, left, right = grey[:, w:-w], grey[:, : -2 * w], grey[:, 2 * w :]
    # A ridge differs from both sides the same way; an edge from one side only.
    ridge = np.minimum(np.abs(middle - left), np.abs(middle - right))
    ridge *= (middle - left) * (middle - right) > 0.0
    rows, columns = np.nonzero(ridge > _RIDGE_LEVELS)
    if len(rows) < _LEAST_STATIONS:
        return None
    if len(rows) > _MOST_POINTS:
        keep = np.linspace(0, len(rows) - 1, _MOST_POINTS).astype(int)
        rows, columns = rows[keep], columns[keep]
    best = _upright(rows + 0.5, columns + w + 0.5, grey.shape[0])
    return None if best is None else line_near(grey, *best, reach_px=6.0)


def _upright(y: Floats, x: Floats, height: int) -> tuple[Point, Point] | None:
    """Return two points of the straight row of points that covers most rows."""
    best: tuple[int, float, int] | None = None
    low = int(height * math.tan(math.radians(_SEARCH_DEG))) + 2
    for degrees in np.arange(-_SEARCH_DEG, _SEARCH_DEG + 1e-6, _SEARCH_STEP_DEG):
        shifted = x - y * math.tan(math.radians(degrees))
        bins = np.floor(0.5 * (shifted + low)).astype(int)
        counts = np.bincount(np.maximum(bins, 0))
        top = int(counts.argmax())
        if best is None or counts[top] > best[0]:
            best = (int(counts[top]), float(degrees), top)
    if best is None:
        return None
    _, degrees, top = best
    slope = math.tan(math.radians(degrees))
    near = np.abs(x - y * slope + low - 2.0 * top - 1.0) <= 2.0
    covered = np.unique(y[near])
    if len(covered) < _SHORTEST * height:
        return None
    y0, y1 = (float(v) for v in np.percentile(covered, (1.0, 99.0)))
    if len(covered) < _LEAST_SHARE * (y1 - y0):
        return None
    x0 = float(np.median((x - y * slope)[near]))
    return (x0 + slope * y0, y0), (x0 + slope * y1, y1)


def sampled(grey: Grey, places: Floats) -> Floats:
    """Return the brightness at points (..., 2), image pixels, by straight interpolation."""
    height, width = grey.shape
    x = np.clip(places[..., 0] - 0.5, 0.0, width - 1.001)
    y = np.clip(places[..., 1] - 0.5, 0.0, height - 1.001)
    x0, y0 = x.astype(int), y.astype(int)
    fx, fy = x - x0, y - y0
    top = grey[y0, x0] * (1.0 - fx) + grey[y0, x0 + 1] * fx
    low = grey[y0 + 1, x0] * (1.0 - fx) + grey[y0 + 1, x0 + 1] * fx
    return np.asarray(top * (1.0 - fy) + low * fy, float)


def _ridge_offsets(profile: Floats, u: Floats) -> Floats:
    """Return where each profile differs most from its own surroundings, NaN where nothing does."""
    third = len(u) // 3
    ground = np.median(np.concatenate([profile[:, :third], profile[:, -third:]], 1), axis=1)
    away = np.abs(profile - ground[:, None])
    away = np.where(away >= 0.5 * away.max(axis=1, keepdims=True), away, 0.0)
    # What also differs at the profile's end is no thin line.
    thin = (away[:, :2].max(axis=1) == 0.0) & (away[:, -2:].max(axis=1) == 0.0)
    clear = (away.max(axis=1) > _RIDGE_LEVELS) & thin
    with np.errstate(invalid="ignore", divide="ignore"):
        middle = (away @ u) / away.sum(axis=1)
    return np.where(clear, middle, np.nan)


def _edge_offsets(profile: Floats, u: Floats) -> Floats:
    """Return where each profile is steepest, NaN where it is flat."""
    steep = np.abs(np.gradient(profile, axis=1))
    top = steep.argmax(axis=1)
    rows = np.arange(len(steep))
    strong = steep[rows, top] > 0.25 * _RIDGE_LEVELS
    inside = (top > 0) & (top < len(u) - 1)
    at = np.clip(top, 1, len(u) - 2)
    a, b, c = steep[rows, at - 1], steep[rows, at], steep[rows, at + 1]
    bend = a - 2.0 * b + c
    with np.errstate(invalid="ignore", divide="ignore"):
        shift = np.where(bend < 0.0, 0.5 * (a - c) / bend, 0.0)
    return np.where(strong & inside, u[at] + np.clip(shift, -1.0, 1.0) * (u[1] - u[0]), np.nan)


def _straight(s: Floats, offsets: Floats) -> tuple[float, float, float, float] | None:
    """Fit a straight line, odd places left out; return slope, level, spread and share seen."""
    keep = np.isfinite(offsets)
    fit = np.zeros(2)
    for reach in (np.inf, 6.0, 3.0, 2.0, _INLIER_PX):
        if keep.sum() < _LEAST_STATIONS:
            return None
        if not np.isfinite(reach):
            fit = np.array([0.0, float(np.median(offsets[keep]))])
            slopes = _pair_slopes(s[keep], offsets[keep])
            fit[0] = slopes
            fit[1] = float(np.median(offsets[keep] - slopes * s[keep]))
        else:
            fit = np.polyfit(s[keep], offsets[keep], 1)
        rest = np.abs(offsets - np.polyval(fit, s))
        keep = np.isfinite(rest) & (rest <= min(reach, 6.0))
    share = float(keep.mean())
    if share < _LEAST_SHARE:
        return None
    return float(fit[0]), float(fit[1]), float(np.median(rest[keep])), share


def _pair_slopes(s: Floats, offsets: Floats) -> float:
    """Return the median slope of pairs half the way apart: odd places do not move it."""
    half = len(s) // 2
    return float(
        np.median((offsets[half:] - offsets[: len(s) - half]) / (s[half:] - s[: len(s) - half]))
    )
