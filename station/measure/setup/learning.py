"""Learns scale and belt line from a belt that runs at a known speed, with a runner or empty."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from station.measure.gait_meter import GaitMeter
from station.measure.setup.belt_flow import BeltFlow
from station.measure.setup.lines import Point
from station.values import LANDMARKS, Belt, Facing, Pose, View, ViewProfile

LEARN_S = 30.0
"""Of running: the slope from flat feet settles slowly."""
EMPTY_S = 8.0
"""Of a belt that runs without anybody: its pattern alone is enough for the scale."""
_HALF_M = 0.8
_SHADOW = 0.12
"""How far beyond heel and toe the belt is not looked at, in lengths of thigh and shank."""
_FEET = tuple(
    (LANDMARKS.index(f"{s}_heel"), LANDMARKS.index(f"{s}_foot_index")) for s in ("left", "right")
)

Line = tuple[Point, Point]
Image = NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class Learned:
    """What a running belt shows."""

    px_per_m: float
    by: Literal["pattern", "feet"]
    """What gave the scale: the belt's own pattern, or the feet on it, which is less exact."""
    belt_line: Line | None
    """Two points, image pixels, the left one first; None: nobody ran."""
    rise_deg: float | None
    """The belt's slope, uphill ahead; None: nobody ran."""
    faces: Facing


class BeltLearner:
    """Takes pictures and poses of a running belt. Used by one thread."""

    def __init__(
        self, belt: Belt, roll_deg: float, faces: Facing | None, line: Line | None
    ) -> None:
        """Begin.

        Args:
            belt: What it is set to.
            roll_deg: The camera's roll.
            faces: The runner's way in the picture; None: seen from the feet.
            line: The belt line where it was marked, image pixels; None: learned from the feet.
        """
        self._belt = belt
        self._faces = faces
        self._line = line
        self._meter = GaitMeter(ViewProfile(faces, roll_deg=roll_deg), belt)
        self._flow: BeltFlow | None = None
        self._view: View | None = None
        self._first_s: float | None = None
        self._view_first_s: float | None = None
        self._now_s = 0.0
        self.detect_anew = False
        """The pose model's tracking has stuck."""

    def see(self, image: Image, pose: Pose | None, t_s: float) -> None:
        """Take one picture and who was found in it."""
        self._now_s = t_s
        if pose is not None:
            seen = self._meter.push(pose)
            self.detect_anew = seen.detect_anew
            if seen.view is not None:
                self._view = seen.view
                if self._view_first_s is None:
                    self._view_first_s = t_s
        self._follow(image, pose, t_s)

    def _follow(self, image: Image, pose: Pose | None, t_s: float) -> None:
        faces = self._faces or (None if self._view is None else self._view.faces)
        line = self._line
        if self._flow is None and faces is not None:
            if line is None and self._view is not None and self.share > 0.2:
                line = belt_line_of(self._view)
            if line is not None:
                self._flow = BeltFlow(line, faces)
                self._first_s = t_s
        if self._flow is not None:
            self._flow.see(image, t_s, _hidden(pose))

    @property
    def view(self) -> View | None:
        """The view as the feet show it so far; None: not yet."""
        return self._view

    @property
    def share(self) -> float:
        """How far it has come, 0 to 1."""
        if self._view_first_s is not None:
            return min(1.0, (self._now_s - self._view_first_s) / LEARN_S)
        if self._first_s is not None:
            return min(1.0, (self._now_s - self._first_s) / EMPTY_S)
        return 0.0

    @property
    def learned(self) -> Learned | None:
        """What was learned; None: not yet."""
        flow = None if self._flow is None else self._flow.flow
        by_pattern = None if flow is None else flow.px_s / self._belt.speed_mps
        if self._view is None:
            if by_pattern is None or self.share < 1.0 or self._faces is None:
                return None
            return Learned(by_pattern, "pattern", None, None, self._faces)
        if self.share < 1.0:
            return None
        view = self._view
        return Learned(
            by_pattern or view.px_per_m, "feet" if by_pattern is None else "pattern",
            belt_line_of(view), view.belt_rise_deg, view.faces,
        )  # fmt: skip


def belt_line_of(view: View) -> Line:
    """Return two points on the belt, image pixels, the left one first."""
    rise = math.radians(view.belt_rise_deg)
    along = np.array([[math.cos(rise), math.sin(rise)]])
    ends = view.to_image(np.concatenate([-_HALF_M * along, _HALF_M * along]))
    (x0, y0), (x1, y1) = sorted((round(float(x), 1), round(float(y), 1)) for x, y in ends)
    return (x0, y0), (x1, y1)


def _hidden(pose: Pose | None) -> tuple[tuple[float, float], ...]:
    if pose is None or not pose.found:
        return ()
    tall = float(np.nanmax(pose.xy_px[:, 1]) - np.nanmin(pose.xy_px[:, 1]))
    beyond = 0.5 * _SHADOW * tall
    found = []
    for heel, toe in _FEET:
        x = pose.xy_px[[heel, toe], 0]
        if np.isfinite(x).all():
            found.append((float(x.min()) - beyond, float(x.max()) + beyond))
    return tuple(found)
