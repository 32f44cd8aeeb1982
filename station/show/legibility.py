"""How tall letters must be for the distance they are read from."""

from __future__ import annotations

import math

PREFERRED_ARCMIN = 22.0
"""Upper end of the preferred range, 20 to 22 minutes of arc (ISO 9241-3): the reader bounces."""
READ_CAP = 29
"""Capital height of the smallest text meant for the runner, pixels of a 720 px high screen.

16 mm on a screen of 0.81 m diagonal: 22 arcmin from 2.5 m.
"""
_LARGEST_SCALE = 1.3  # beyond it the corner panels would reach the runner


def letter_height_m(arcmin: float, distance_m: float) -> float:
    """Return the height that subtends `arcmin` minutes of arc at `distance_m`, metres."""
    return 2.0 * distance_m * math.tan(math.radians(arcmin / 60.0) / 2.0)


def text_scale(
    screen_diagonal_m: float | None, viewing_distance_m: float, width: int, height: int
) -> float:
    """Return by how much to enlarge the text for a given screen and distance.

    Args:
        screen_diagonal_m: The screen's diagonal, metres; None: not known.
        viewing_distance_m: From the runner's eyes to the screen, metres.
        width: Picture width in pixels; the picture is taken to fill the screen.
        height: Picture height in pixels.

    Returns:
        1.0 where the ordinary size is enough or the screen is not known; at most 1.3, so that
        the panels stay clear of the runner.
    """
    if screen_diagonal_m is None:
        return 1.0
    px_per_m = math.hypot(width, height) / screen_diagonal_m
    needed_px = letter_height_m(PREFERRED_ARCMIN, viewing_distance_m) * px_per_m
    long, short = max(width, height), min(width, height)  # an upright screen is laid out upright
    ordinary_px = READ_CAP * min(long / 1280.0, short / 720.0)
    return min(max(needed_px / ordinary_px, 1.0), _LARGEST_SCALE)
