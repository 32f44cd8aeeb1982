"""Where the runner's plane lies in the picture: from the profile, or learned from running."""

from __future__ import annotations

import math
from collections import deque

import numpy as np

from station.measure.belt_slope import BeltSlope
from station.measure.carried_foot import CarriedFoot, mean_speed
from station.measure.plane import Plane
from station.values import Facing, Floats, View, ViewProfile

_FACING_FRAMES = 8
_STANCES = 120
"""The scale does not change: three quarters of a minute of running."""
_FIRST_STANCES = 4
_FIRST_LEVELS = 4
_SOLE_UNDER_HEEL = 0.035
"""How far the sole lies under the heel's landmark, in leg lengths (about 3 cm)."""


class ViewLearner:
    """Keeps facing, belt line and scale; what the profile gives is never overruled here."""

    def __init__(self, profile: ViewProfile) -> None:
        """Begin with what the profile says (already scaled to the pictures' size)."""
        self._profile = profile
        self._votes = 0.0
        self._scales: deque[CarriedFoot] = deque(maxlen=_STANCES)  # px/s per m/s
        self._levels: deque[float] = deque(maxlen=16)
        self._belt_slope = BeltSlope()
        self._incline: float | None = None
        self._line_slope: float | None = None
        self._line_level: float | None = None
        self._line_moved = False
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

    def set_incline(self, percent: float | None) -> None:
        """Take the incline that the belt is set to; None: nobody knows.

        A belt line from the profile holds for the incline first set, and tilts with a later one.
        """
        change = ((percent or 0.0) - (self._incline or 0.0)) / 100.0
        first = self._incline is None
        self._incline = percent
        self._belt_slope.set_incline(percent)
        if first or change == 0.0:
            return
        self._levels.clear()
        self._line_moved = True
        if self._line_slope is not None:
            self._line_slope += change

    def see_speed(self, foot: CarriedFoot, belt_mps: float) -> None:
        """Learn the scale from one stance, taken while the belt ran at the speed set."""
        if belt_mps > 0.0:
            self._scales.append(CarriedFoot(foot.px_s / belt_mps, foot.weight * belt_mps**2))

    def see_stance(self, side: int, flat: Floats, sole_level: float | None) -> None:
        """Learn the belt line from one stance.

        Args:
            side: 0 left, 1 right.
            flat: (k, 3, 2) the foot's points while it lies flat, plane pixels.
            sole_level: The heel's resting height over a line of slope `slope` through the origin,
                plane pixels.
        """
        if self._line_slope is None:
            self._belt_slope.add(side, flat)
        if sole_level is not None:
            self._levels.append(sole_level)

    @property
    def slope(self) -> float:
        """Belt rise, plane y per x."""
        return self._belt_slope.slope if self._line_slope is None else self._line_slope

    @property
    def learned_px_per_m(self) -> float | None:
        """The scale as the stances show it; None before four."""
        if len(self._scales) < _FIRST_STANCES:
            return None
        return mean_speed(self._scales)[0]

    def view(self, belt_px_s: float | None, belt_mps: float | None, leg_px: float) -> View | None:
        """Return the view as known now, or None without a scale or a belt line.

        Args:
            belt_px_s: Belt speed in the picture.
            belt_mps: The belt speed set.
            leg_px: Leg length, plane pixels.
        """
        if self.plane is None:
            return None
        scale = self._profile.px_per_m or self.learned_px_per_m
        if scale is None and belt_px_s is not None and belt_mps:
            scale = belt_px_s / belt_mps
        if scale is None:
            return None
        level = self._line_level
        if level is None or (self._line_moved and len(self._levels) >= _FIRST_LEVELS):
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
            self._line_slope = float((b[1] - a[1]) / (b[0] - a[0]))
            self._line_level = float(a[1] - self._line_slope * a[0])
