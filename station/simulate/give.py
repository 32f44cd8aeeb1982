"""How shoe and foot give way at touch-down: the joints come to rest after the sole does.

At the first touch the sole sticks to the belt, but ankle and shoe upper still move: they sink and
run forward against the sole for some hundredths of a second (midsole, heel pad, arch). On one real
runner's force-plate trial (2.5 m/s) the shoe stood 15 to 20 mm above its resting height at
contact, sank at 0.6 to 0.75 m/s, moved back at 0.55 of the belt's speed, and had the belt's speed
25 ms later. The offset runs out evenly slowed, so position and speed have no jump.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

PITCH_RATE = -1.2
"""The foot turns down at this rate as it comes in, rad/s."""
GIVE_S = 0.036
"""From the touch until the foot lies firm."""
_SINK_SHARE = 0.0065
"""How far the foot sinks, as a share of the standing height (11 mm at 1.75 m)."""
_LAG_MPS = 1.1
"""How much slower than the belt a foot moves back at contact, at 2.5 m/s; as the root of speed."""
_RETURN_S = 0.12


@dataclass(frozen=True, slots=True)
class Give:
    """The give of one landing, in the belt's frame (along + i square to it), metres."""

    unloaded: complex
    """Offset of ankle and shoe marks against the firm shoe while nothing presses."""

    @classmethod
    def of(cls, height_m: float, speed_mps: float) -> Give:
        """Return a runner's give at a belt speed."""
        lag_mps = _LAG_MPS * math.sqrt(speed_mps / 2.5)
        return cls(complex(-0.5 * lag_mps * GIVE_S, _SINK_SHARE * height_m))

    @property
    def rate_at_touch(self) -> complex:
        """Speed of the joints against the sole at the instant of contact, m/s."""
        return -2.0 * self.unloaded / GIVE_S

    def loaded(self, since_touch_s: float) -> complex:
        """Return the offset in stance, `since_touch_s` after the first touch."""
        share = min(max(1.0 - since_touch_s / GIVE_S, 0.0), 1.0)
        return self.unloaded * share * share

    def returning(self, since_toe_off_s: float, swing_s: float) -> complex:
        """Return the offset in swing: the shoe takes its shape again soon after toe-off."""
        share = min(max(since_toe_off_s / min(_RETURN_S, 0.6 * swing_s), 0.0), 1.0)
        return self.unloaded * share * share * (3.0 - 2.0 * share)
