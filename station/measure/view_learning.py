"""Where the runner's plane lies in the picture: from the profile, or learned from running."""

from __future__ import annotations

import math
from collections import deque

import numpy as np

from station.measure.plane import Plane
from station.values import Facing, Floats, View, ViewProfile

_FACING_FRAMES = 8
_STANCES = 40
_FIRST_STANCES = 6
_STEEPEST = 0.4
"""No treadmill is steeper than this (40 percent)."""
_SOLE_UNDER_HEEL = 0.035
"""How far the sole lies under the heel's landmark, in leg lengths (about 3 cm)."""


class ViewLearner:
    """Keeps facing, belt line and scale; what the profile gives is never overruled here."""

    def __init__(self, profile: ViewProfile) -> None:
        """Begin with what the profile says (already scaled to the pictures' size)."""
        self._profile = profile
        self._votes = 0.0
        self._ways: deque[tuple[float, float]] = deque(maxlen=_STANCES)
        self._levels: deque[float] = deque(maxlen=16)
        self._slope = 0.0
        self._level: float | None = None
        self.plane: Plane | None = None

    def see_feet(self, found_px: Floats) -> None:
        """Learn the facing from the way the feet point.

        Args:
            found_px: (2, 5, 2) legs, image pixels.
        """
        if self.plane is not None:
            return
        if self._profile.faces is not None:
            self._face(self._profile.faces, found_px)
            return
        points = found_px[:, 4, 0] - found_px[:, 3, 0]  # toe minus heel
        points = points[np.isfinite(points)]
        self._votes += float(np.sign(points).sum()) if len(points) else 0.0
        if abs(self._votes) >= _FACING_FRAMES:
            self._face("right" if self._votes > 0.0 else "left", found_px)

    def see_stance(self, way: tuple[float, float] | None, sole_level: float | None) -> None:
        """Learn the belt line from one stance.

        Args:
            way: The carried foot's way on the belt: sums of squares of x, and of x times y, about
                their means, plane pixels^2.
            sole_level: The heel's resting height over a line of slope `slope` through the origin,
                plane pixels.
        """
        if self._profile.belt_line is not None:
            return
        if way is not None:
            self._ways.append(way)
            if len(self._ways) >= _FIRST_STANCES:
                xx, xy = np.sum(self._ways, axis=0).tolist()
                self._slope = min(max(xy / xx, -_STEEPEST), _STEEPEST)
        if sole_level is not None:
            self._levels.append(sole_level)

    @property
    def slope(self) -> float:
        """Belt rise, plane y per x."""
        return self._slope

    def view(self, belt_px_s: float | None, belt_mps: float | None, leg_px: float) -> View | None:
        """Return the view as known now, or None without a scale or a belt line.

        Args:
            belt_px_s: Belt speed in the picture.
            belt_mps: The belt speed set.
            leg_px: Leg length, plane pixels.
        """
        if self.plane is None:
            return None
        scale = self._profile.px_per_m
        if scale is None and belt_px_s is not None and belt_mps:
            scale = belt_px_s / belt_mps
        if scale is None:
            return None
        level = self._level
        if level is None:
            if not self._levels:
                return None
            level = float(np.median(self._levels)) - _SOLE_UNDER_HEEL * leg_px
        origin = self.plane.to_image(np.array([0.0, level]))
        return View(
            scale,
            self.plane.faces,
            (float(origin[0]), float(origin[1])),
            self.plane.roll_deg,
            math.degrees(math.atan(self.slope)),
        )

    def _face(self, faces: Facing, found_px: Floats) -> None:
        points = found_px[np.isfinite(found_px).all(axis=-1)]
        if not len(points):
            return
        x, y = points.mean(axis=0).tolist()
        self.plane = Plane(faces, self._profile.roll_deg, (x, y))
        line = self._profile.belt_line
        if line is not None:
            a, b = self.plane.from_image(np.asarray(line, dtype=float))
            self._slope = float((b[1] - a[1]) / (b[0] - a[0]))
            self._level = float(a[1] - self._slope * a[0])
