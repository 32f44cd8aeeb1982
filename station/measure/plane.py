"""The plane that all measuring happens in: pixels, but turned to gravity and to the runner.

x grows ahead (the way the runner faces), y grows up against gravity. Only the camera's roll and
the facing are needed for it; scale and belt are learned within it. Its origin is where the runner
was first seen, so that a belt slope learned a little wrong tilts heights about the runner's own
place, not about the picture's corner.
"""

from __future__ import annotations

from dataclasses import dataclass

from station.values import Facing, Floats, View


@dataclass(frozen=True, slots=True)
class Plane:
    """Turns image pixels into the measuring plane and back (a `View` with a scale of one)."""

    faces: Facing
    roll_deg: float = 0.0
    origin_px: tuple[float, float] = (0.0, 0.0)
    """Image point of plane (0, 0)."""

    @property
    def _view(self) -> View:
        return View(1.0, self.faces, self.origin_px, self.roll_deg)

    def from_image(self, xy_px: Floats) -> Floats:
        """Turn image points (..., 2) into plane points (..., 2), pixels."""
        return self._view.to_bay(xy_px)

    def to_image(self, xy: Floats) -> Floats:
        """Turn plane points (..., 2) into image points (..., 2), pixels."""
        return self._view.to_image(xy)
