"""Where the machine cannot measure every picture: the poses get fewer before the pictures do.

The pose model always works on the newest picture, so it has as many as it can. While it leaves out
too many, those are shown all the same, with what was measured last; only when hardly enough poses
for the measurement are left do the pictures get fewer, too.
"""

from __future__ import annotations

from collections import deque

from station.values import Fault

WINDOW_S = 2.0
BEHIND = 0.10
"""Share of pictures that were not measured, from which the pictures go on by themselves."""
KEEPING_UP = 0.02
"""And below which, for `CALM_S`, each picture waits for its pose again."""
CALM_S = 5.0
LEAST_POSES = 15.0
"""Poses a second: with fewer a foot is on the belt for three of them or less, so the machine's time
goes to them."""
TOLD_EVERY_S = 2.0
"""How often the figures that are told change."""


class PoseRate:
    """Watches how many pictures are measured. `captured` is called by one thread, others read."""

    def __init__(self) -> None:
        """Begin with every picture measured."""
        self.lowered = False
        """Fewer poses than pictures, for some seconds."""
        self.pictures_go_on = False
        """Pictures without a pose are to be shown."""
        self.fault: Fault | None = None
        """What is to be told of it; None: nothing."""
        self._last: deque[tuple[float, bool]] = deque()
        self._left_out = 0
        self._calm_since_s: float | None = None
        self._told_s = float("-inf")

    def captured(self, t_s: float, left_out: bool) -> None:
        """Take note of a picture.

        Args:
            t_s: When it was exposed, session clock; rises.
            left_out: It took the place of one that is now not measured.
        """
        self._last.append((t_s, left_out))
        self._left_out += left_out
        while t_s - self._last[0][0] > WINDOW_S:
            self._left_out -= self._last.popleft()[1]
        span_s = t_s - self._last[0][0]
        if span_s < 0.9 * WINDOW_S:  # just begun, or after a gap: nothing is known
            return
        share = self._left_out / len(self._last)
        pictures = (len(self._last) - 1) / span_s
        poses = (1.0 - share) * pictures
        if share >= BEHIND:
            self.lowered, self._calm_since_s = True, None
        elif self.lowered:
            self._calm(share, t_s)
        self.pictures_go_on = self.lowered and poses >= LEAST_POSES
        self._tell(poses, pictures, t_s)

    def _calm(self, share: float, t_s: float) -> None:
        if share >= KEEPING_UP:
            self._calm_since_s = None
        elif self._calm_since_s is None:
            self._calm_since_s = t_s
        elif t_s - self._calm_since_s >= CALM_S:
            self.lowered, self._calm_since_s = False, None

    def _tell(self, poses: float, pictures: float, t_s: float) -> None:
        if not self.lowered:
            self.fault = None
        elif self.fault is None or t_s - self._told_s >= TOLD_EVERY_S:
            self._told_s = t_s
            figures = (("poses", f"{poses:.0f}"), ("pictures", f"{pictures:.0f}"))
            self.fault = Fault("pose_rate_lowered", values=figures)
