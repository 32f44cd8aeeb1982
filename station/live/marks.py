"""Where a landing and its limit lie on the belt, for the screen: pure geometry."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from station.coach.scene import LandingMark
from station.values import LEG_INDEX, Floats, Landing, Pose, Side, Verdict, View

Point = tuple[float, float]


def landing_mark(
    landing: Landing,
    verdict: Verdict | None,
    border_deg: float | None,
    view: View,
    t_s: float,
    told: bool = True,
) -> LandingMark:
    """Build the mark of one landing.

    Args:
        landing: With its points in image pixels at the landing instant.
        verdict: None: not judged.
        border_deg: Beyond which shank angle this landing is ahead, degrees: this leg's limit and
            the landing's own error; None: there is none now.
        view: Projects between image and bay.
        t_s: Now, session clock.
        told: Whether the runner is to know how it was judged.

    Returns:
        The mark, in image pixels. Its ankle and its limit point lie where the ankle's plumb line
        meets the belt with this shank, from this knee, at the angle that the verdict was taken on
        and at the border: so the mark is beyond the limit when the word says ahead, else not.
    """
    knee, ankle = view.to_bay(np.array([landing.knee_px, landing.ankle_px]))
    shank_m = float(np.hypot(*(knee - ankle)))
    limit = None if border_deg is None else _below(knee, shank_m, border_deg)
    if landing.shank_deg is not None:
        ankle = _below(knee, shank_m, landing.shank_deg)
    return LandingMark(
        side=landing.side,
        verdict=verdict,
        age_s=t_s - landing.t_contact_s,
        knee_px=landing.knee_px,
        ankle_px=landing.ankle_px,
        heel_px=landing.heel_px,
        toe_px=landing.toe_px,
        plumb_px=_on_belt(knee, view),
        limit_px=None if limit is None else _on_belt(limit, view),
        ankle_on_belt_px=_on_belt(ankle, view),
        shank_deg=landing.shank_deg,
        told=told,
    )


class Marks:
    """Works each foot's newest mark out once, and then lets it age. Used by one thread."""

    def __init__(self) -> None:
        """Begin with none."""
        self._kept: dict[Side, tuple[Landing, tuple[object, ...], LandingMark]] = {}

    def of(
        self,
        landing: Landing,
        verdict: Verdict | None,
        border_deg: float | None,
        view: View,
        t_s: float,
        told: bool = True,
    ) -> LandingMark:
        """Return a landing's mark as of now; args as of `landing_mark`."""
        given = (verdict, border_deg, view, told)
        of, before, mark = self._kept.get(landing.side, (None, (), None))
        if mark is None or of is not landing or before != given:
            mark = landing_mark(landing, verdict, border_deg, view, t_s, told)
            self._kept[landing.side] = landing, given, mark
            return mark
        return replace(mark, age_s=t_s - landing.t_contact_s)


def _below(knee_m: Floats, shank_m: float, shank_deg: float) -> Floats:
    turn = math.radians(shank_deg)
    return knee_m + shank_m * np.array([math.sin(turn), -math.cos(turn)])


def _on_belt(xy_m: Floats, view: View) -> Point:
    x, y = view.to_image(view.plumb_on_belt(xy_m))
    return float(x), float(y)


def leg_points(pose: Pose, side: Side) -> Floats:
    """Return (5, 2) hip, knee, ankle, heel, toe of one leg, image pixels; NaN where unknown."""
    return pose.xy_px[list(LEG_INDEX[side])]
