"""What is amiss with the view, and what that does to the results: told, never acted upon."""

from __future__ import annotations

import math
from collections import deque
from statistics import median

from station.measure.belt_pace import BeltPace
from station.measure.history import HEEL, HIP, TOE
from station.measure.squareness import MOST_DEG, SquareWatch, short_percent
from station.values import Facing, Floats, Notice

BELT_OFF = 0.05
"""A belt this share off the speed set is told of: scale or speed must be wrong, and with it every
length or every step length."""
_BELT_RIGHT = 0.04
"""Below this share what was told is taken back: in between, it stays as it was."""
_BELT_ERRORS = 2.0
"""So many standard errors beyond the limit a difference must lie. Half of what lies between the
toes' and the heels' speed counts as an error too: a pose model's points may slide on the shoe by
centimetres (seen on a drawn heel striker: 7 % too fast, toes by more)."""
_BELT_STANCES = 12
"""With fewer the standard error is itself too uncertain; ..."""
_STANCE_SPREAD = 0.045
"""... and stances are never taken to scatter by less than this share (5 % at 30 frames per second,
10 mm of noise): a dozen may agree by chance."""
_SQUARE_DEG = 12.0
"""Below this angle off square what was told is taken back."""
_SQUARE_S = 4.0
"""So much running averages the shoulders' turning with the arms."""
_EVERY_S = 0.5
"""How often the slow ones are worked out."""
SLOWEST_FPS = 24.0
"""The slowest frame rate that landings are measured at (see the design)."""
_RATE_FRAMES = 48
SMALLEST_LEG_PX = 120.0
"""At this length (thigh and shank) one pixel at knee and ankle is 1.4 deg of the shank's angle."""
_SIZE_S = 1.0
_FACING_S = 1.0
_FACING_SHARE = 0.8
"""Share of frames of the last second in which a runner's toes point his way; in swing a foot
hangs down now and then."""
_FACING_FRAMES = 12


class ViewChecks:
    """Watches frames and stances; `notices` says what is amiss now. Used by one thread."""

    def __init__(self, told_faces: Facing | None, scale_told: bool) -> None:
        """Begin with nothing amiss.

        Args:
            told_faces: The way the profile says the runner faces; None: it is learned.
            scale_told: The profile gives the scale, so that the belt's speed can be measured.
        """
        self._told_faces = told_faces
        self._scale_told = scale_told
        self._found: dict[str, Notice] = {}
        self._intervals: deque[float] = deque(maxlen=_RATE_FRAMES)
        self._last_s: float | None = None
        self._began_s: float | None = None
        self._rated_s = self._looked_s = -math.inf
        self._square = SquareWatch(_RATE_FRAMES)
        self._ways: deque[tuple[float, bool]] = deque()

    @property
    def notices(self) -> tuple[Notice, ...]:
        """What is amiss now, the oldest first."""
        return tuple(self._found.values())

    @property
    def faces_other_way(self) -> bool:
        """Whether the runner is seen to face the other way than the profile says."""
        return "faces_other_way" in self._found

    def see_frame(self, t_s: float) -> None:
        """Take a frame's time; all frames count, empty ones too."""
        if self._last_s is not None:
            self._intervals.append(t_s - self._last_s)
        self._last_s = t_s
        if len(self._intervals) < _RATE_FRAMES or t_s - self._rated_s < _EVERY_S:
            return
        self._rated_s = t_s
        interval = median(self._intervals)
        # Half a frame per second of grace: 24 pictures a second are often 23.976.
        low = interval > 1.0 / (SLOWEST_FPS - 0.5)
        self._say(low, "frame_rate_low", fps=f"{1.0 / interval:.0f}", off=f"{500.0 * interval:.0f}")

    def see_body(self, t_s: float, legs: Floats, shoulders: Floats, leg_px: float) -> None:
        """Take one frame's body.

        Args:
            t_s: Frame time.
            legs: (2, 5, 2) plane pixels.
            shoulders: (2, 2) left, right, plane pixels.
            leg_px: Thigh plus shank.
        """
        if self._began_s is None:
            self._began_s = t_s
        feet = [f for f in (legs[:, TOE, 0] - legs[:, HEEL, 0]).tolist() if math.isfinite(f)]
        if self._told_faces is not None and feet:
            self._see_facing(t_s, sum(feet) / len(feet))
        self._square.take(shoulders, legs[:, HIP])
        if t_s - self._looked_s < _EVERY_S:
            return
        self._looked_s = t_s
        if t_s - self._began_s >= _SIZE_S:
            pixel_deg = math.degrees(math.sqrt(2.0) / max(0.5 * leg_px, 1.0))
            self._say(leg_px < SMALLEST_LEG_PX, "too_small", degrees=f"{pixel_deg:.1f}")
        if t_s - self._began_s >= _SQUARE_S:
            self._check_square()

    def _check_square(self) -> None:
        angle = self._square.off_deg
        if angle is None:
            return
        limit = _SQUARE_DEG if "not_side_on" in self._found else MOST_DEG
        short = short_percent(angle)
        self._say(angle > limit, "not_side_on", degrees=f"{angle:.0f}", percent=f"{short:.0f}")

    def _see_facing(self, t_s: float, toes_ahead: float) -> None:
        self._ways.append((t_s, toes_ahead < 0.0))
        while self._ways[0][0] < t_s - _FACING_S:
            self._ways.popleft()
        if len(self._ways) < _FACING_FRAMES or t_s - self._ways[0][0] < 0.9 * _FACING_S:
            return
        back = sum(wrong for _, wrong in self._ways) / len(self._ways)
        if back > _FACING_SHARE or back < 1.0 - _FACING_SHARE:
            told = self._told_faces or "right"
            seen = "left" if told == "right" else "right"
            self._say(back > _FACING_SHARE, "faces_other_way", told=told, seen=seen)

    def see_belt(self, pace: BeltPace, set_px_s: float | None, settled: bool) -> None:
        """Compare the belt as measured with the belt as set, after a stance.

        Args:
            pace: The belt as the feet show it.
            set_px_s: What scale and set speed say, plane pixels per second.
            settled: The belt has had the time to reach its speed.
        """
        if not (self._scale_told and set_px_s):
            return
        measured, error = pace.measured_px_s, pace.error_px_s
        if measured is None or error is None or not settled:
            self._found.pop("belt_faster", None)
            self._found.pop("belt_slower", None)
            return
        if pace.stances < _BELT_STANCES:
            return
        off = measured / set_px_s - 1.0
        error = max(error, _STANCE_SPREAD * measured / math.sqrt(pace.stances))
        doubt = _BELT_ERRORS * math.hypot(error, 0.5 * pace.sliding_px_s) / set_px_s
        sure = abs(off) - doubt > BELT_OFF
        for key, way in (("belt_faster", 1.0), ("belt_slower", -1.0)):
            was = key in self._found
            self._say(
                way * off > 0.0 and (sure or (was and abs(off) > _BELT_RIGHT)),
                key,
                percent=f"{100.0 * abs(off):.0f}",
            )

    def _say(self, amiss: bool, key: str, **values: str) -> None:
        if amiss:
            self._found[key] = Notice(key, tuple(values.items()))
        else:
            self._found.pop(key, None)
