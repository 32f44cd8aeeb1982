"""The simulated runner's body at one instant: where every joint is, exactly."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from station.values import LANDMARK_INDEX, Floats, Pose, Side, View


@dataclass(frozen=True, slots=True, eq=False)
class Leg:
    """One leg's points in the bay's frame: (2,) each, metres, x ahead, y up from the belt."""

    hip: Floats
    knee: Floats
    ankle: Floats
    heel: Floats
    """Back of the shoe, at the sole's height where the pose model marks it (see the gait)."""
    toe: Floats
    """Tip of the shoe (`foot_index`)."""
    sole_heel: Floats
    """Rear end of the sole's ground line: on the belt when the heel is down."""
    sole_ball: Floats
    """The sole under the ball of the foot: the pivot when the heel rises."""
    sole_toe: Floats
    """Front end of the sole's ground line."""
    on_belt: bool
    """Whether the shoe touches the belt at this instant."""


@dataclass(frozen=True, slots=True, eq=False)
class Arm:
    """One arm's points, (2,) each, metres, bay frame."""

    shoulder: Floats
    elbow: Floats
    wrist: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Figure:
    """All joints at time `t_s`, bay frame (metres)."""

    t_s: float
    legs: dict[Side, Leg]
    arms: dict[Side, Arm]
    head: Floats
    """(2,) centre of the head."""
    nose: Floats
    height_m: float
    """Standing height: the sizes of head, limbs and shoes follow from it."""
    belt_travel_m: float
    """How far the belt has run since time 0: moves the belt's pattern."""

    def to_pose(self, view: View, index: int, width: int, height: int) -> Pose:
        """Project the joints to a perfect pose (visibility 0.95), image pixels.

        Landmarks that the figure has no joint for stay NaN.
        """
        xy = np.full((33, 2), np.nan)
        visibility = np.full(33, np.nan)

        def put(name: str, point: Floats) -> None:
            xy[LANDMARK_INDEX[name]] = view.to_image(point)
            visibility[LANDMARK_INDEX[name]] = 0.95

        put("nose", self.nose)
        for side, leg in self.legs.items():
            put(f"{side}_ear", self.head)
            put(f"{side}_hip", leg.hip)
            put(f"{side}_knee", leg.knee)
            put(f"{side}_ankle", leg.ankle)
            put(f"{side}_heel", leg.heel)
            put(f"{side}_foot_index", leg.toe)
        for side, arm in self.arms.items():
            put(f"{side}_shoulder", arm.shoulder)
            put(f"{side}_elbow", arm.elbow)
            put(f"{side}_wrist", arm.wrist)
        return Pose(self.t_s, index, xy, visibility, width, height)
