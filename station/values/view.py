"""How the camera stands to the belt, and what is known of it beforehand."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from station.values.body import Facing, Floats, Side


@lru_cache(maxsize=16)
def _axes(roll_deg: float, faces: Facing) -> Floats:
    roll = math.radians(roll_deg)
    ahead = 1.0 if faces == "right" else -1.0
    level = np.array([math.cos(roll), math.sin(roll)])
    up = np.array([math.sin(roll), -math.cos(roll)])
    axes = np.stack([ahead * level, up])
    axes.flags.writeable = False  # shared by all that ask
    return axes


@dataclass(frozen=True, slots=True)
class View:
    """How the runner's plane lies in the image: the projections between image and bay.

    Bay x is ahead along the horizontal, y up against gravity. The belt is the straight line
    through `origin_px` with its own slope; that slope beyond the camera's roll is the incline.
    """

    px_per_m: float
    faces: Facing
    origin_px: tuple[float, float]
    """A point on the belt surface, image pixels: bay (0, 0)."""
    roll_deg: float = 0.0
    """Camera roll: by how much a level line runs downhill to the image's right, degrees."""
    belt_rise_deg: float = 0.0
    """The belt's slope against the horizontal, degrees, positive uphill ahead of the runner."""

    def __post_init__(self) -> None:
        if not (self.px_per_m > 0.0 and math.isfinite(self.px_per_m)):
            raise ValueError(f"px_per_m is {self.px_per_m}; it must be over 0")

    @property
    def near_side(self) -> Side:
        """The runner's side that the camera sees: facing right, the right one."""
        return self.faces

    def axes(self) -> Floats:
        """Return (2, 2): rows are the bay's x and y unit vectors in image pixels."""
        return _axes(self.roll_deg, self.faces)

    def to_bay(self, xy_px: Floats) -> Floats:
        """Project image points (..., 2) in pixels to bay points (..., 2) in metres."""
        return (np.asarray(xy_px) - np.asarray(self.origin_px)) @ self.axes().T / self.px_per_m

    def to_image(self, xy_m: Floats) -> Floats:
        """Project bay points (..., 2) in metres to image points (..., 2) in pixels."""
        return np.asarray(xy_m) @ self.axes() * self.px_per_m + np.asarray(self.origin_px)

    def belt_height_m(self, xy_m: Floats) -> Floats:
        """Return the height (...) of bay points (..., 2) over the belt, square to it, metres."""
        rise = math.radians(self.belt_rise_deg)
        xy = np.asarray(xy_m)
        return np.asarray(xy[..., 1] * math.cos(rise) - xy[..., 0] * math.sin(rise))

    def plumb_on_belt(self, xy_m: Floats) -> Floats:
        """Return where the plumb line through bay points (..., 2) meets the belt, (..., 2), m."""
        x = np.asarray(xy_m)[..., 0]
        return np.stack([x, x * math.tan(math.radians(self.belt_rise_deg))], axis=-1)


@dataclass(frozen=True, slots=True)
class ViewProfile:
    """What a bay profile says of the view; what it leaves out (None) is learned from running."""

    faces: Facing | None = None
    px_per_m: float | None = None
    belt_line: tuple[tuple[float, float], tuple[float, float]] | None = None
    """Two points on the belt surface, image pixels, in any order."""
    width: int | None = None
    """Image width in which `px_per_m` and `belt_line` were taken; None: as the pictures come."""
    height: int | None = None
    roll_deg: float = 0.0

    def scaled_to(self, width: int, height: int) -> ViewProfile:
        """Return the profile for pictures of another size (the same view, resampled)."""
        if (
            self.width is None
            or self.height is None
            or (self.width, self.height) == (width, height)
        ):
            return self
        fx, fy = width / self.width, height / self.height
        line = self.belt_line
        if line is not None:
            line = ((line[0][0] * fx, line[0][1] * fy), (line[1][0] * fx, line[1][1] * fy))
        scale = None if self.px_per_m is None else self.px_per_m * fx
        return ViewProfile(self.faces, scale, line, width, height, self.roll_deg)
