"""What is good enough in a bay: for the set-up's pages and for `station check` alike.

How far off square the camera may look is in `station.measure.squareness`, the slowest frame rate
and the smallest leg in `station.measure.view_checks`.
"""

from __future__ import annotations

LONGEST_S = 1.0 / 250.0
"""A swinging shank turns some 1000 deg/s: 4 deg in this exposure. Common practice for a moving leg,
no source."""
LEAST_FPS = 50.0
"""Below it landings are judged less surely (`config/bay.toml`)."""

DARK, BLACK, BRIGHT, WHITE_SHARE = 0.2, 0.03, 0.85, 0.2
"""Mean grey levels, 0 to 1, and the share of the picture that may be wholly white."""
BLURRED = 6.0 / 1280.0
"""Edges as wide as this share of the picture's width are out of focus: sharp ones are 1 to 3 px of
1280."""

GOOD_ROLL_DEG = 2.0
"""A roll that is known is taken out; more than this is easily put right at the mount."""
STEEPEST_DEG = 9.0
"""15 percent, the most that treadmills rise, and a little."""

LATE_S = 0.160
"""A cue that takes longer from asking to being heard no longer comes within its step."""
TOLD_LATE_S = 0.040
"""So much later than its device tells a loudspeaker may sound: pulse and beat still seem one."""
ABOVE_DB = 6.0
"""Ticks of twice the amplitude of the room's own noise; common practice, no source."""

LOW_BYTES, NONE_BYTES = 2_000_000_000, 200_000_000
"""Free where records are written: below the first it is told, below the second it is too little."""
