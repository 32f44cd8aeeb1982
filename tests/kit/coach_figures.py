"""The coach's strip with all that it can tell, for the tests of the screen; invented values."""

from __future__ import annotations

from station.coach.figures import CoachFigures, GateFigures, LegFigures

FIGURES = CoachFigures(
    2, 5, "Faster", "mastery", 84.0, "7.5 mph", "7.3 mph", 174.0, 172.4,
    (LegFigures("left", 7.8, "baseline", 6.44, 0.94, 58, 0.04, 0.81),
     LegFigures("right", 8.1, "fallback", None, None, 0, None, None)),
    GateFigures(0.9, 20, 120.0, False), "fading", True, 12, 3,
    ("flag_unjudged", "flag_rate_off", "flag_belt_off"),
)  # fmt: skip
