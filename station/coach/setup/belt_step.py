"""The belt line: two points on the belt where the runner's feet come down."""

from __future__ import annotations

import math

from station.coach.choice import Choice
from station.coach.setup.bounds import STEEPEST_DEG
from station.coach.setup.drafting import with_view
from station.coach.setup.page import Body, Reading, StepName
from station.coach.setup.step import Plain
from station.coach.setup.two_points import TwoPoints
from station.coach.setup.values import Done, Draft, Facts, Wish
from station.measure.setup.scale import belt_rise_deg

LEAST_PX = 50.0
"""As a bay profile has it: two points closer than this give no slope."""
_LEAST_SHARE = 0.35
"""Of the picture's width: points nearer to each other make the slope uncertain."""


class BeltStep(Plain):
    """Takes two clicks on the belt."""

    name: StepName = "belt"

    def __init__(self) -> None:
        """Begin with none."""
        self._points = TwoPoints()
        self._width = 0

    def enter(self, draft: Draft) -> Wish | None:
        """Begin with the line as it is known."""
        line, camera = draft.bay.view.belt_line, draft.camera
        if line is not None and camera is not None and self._points.pair is None:
            scaled = draft.bay.view.scaled_to(camera.width, camera.height).belt_line
            self._points.set(scaled or line)
        return None

    def see(self, facts: Facts, draft: Draft) -> None:
        """Learn the picture's width."""
        self._width = facts.image.shape[1]

    def take(self, done: Done, draft: Draft) -> Wish | None:
        """Take a click, or an arrow key."""
        self._points.take(done)
        return None

    def body(self, draft: Draft) -> Body:
        """Return the line and its slope against the horizontal."""
        offers = (Choice("clear", "setup_clear", "1"),) if self._points.last else ()
        readings = self._readings(draft)
        marks = self._points.marks("bad" if any(r.grade == "bad" for r in readings) else "good")
        return Body("setup_belt_how", readings, marks, offers, loupe=self._points.last)

    def _readings(self, draft: Draft) -> tuple[Reading, ...]:
        pair = self._points.pair
        if draft.camera is None:
            return (Reading("setup_no_picture", "bad"),)
        if pair is None:
            key = "setup_belt_first" if self._points.last is None else "setup_belt_second"
            return (Reading(key, "open"),)
        apart = math.dist(*pair)
        rise = belt_rise_deg(*pair, draft.bay.view.roll_deg, draft.bay.view.faces or "right")
        percent = 100.0 * math.tan(math.radians(max(-80.0, min(80.0, rise))))
        values = (("degrees", f"{rise:.1f}"), ("percent", f"{percent:.1f}"))
        if apart < LEAST_PX:
            return (Reading("setup_belt_close", "bad"),)
        if abs(rise) > STEEPEST_DEG:
            return (Reading("setup_belt_steep", "bad", values),)
        found = [Reading("setup_belt_rise", "good", values)]
        if self._width and apart < _LEAST_SHARE * self._width:
            found.append(Reading("setup_belt_short", "look"))
        return tuple(found)

    def apply(self, draft: Draft) -> Draft:
        """Keep the line."""
        pair = self._points.pair
        if pair is None or any(r.grade == "bad" for r in self._readings(draft)):
            return draft
        (x0, y0), (x1, y1) = sorted(pair)
        return with_view(
            draft, belt_line=((round(x0, 1), round(y0, 1)), (round(x1, 1), round(y1, 1)))
        )
