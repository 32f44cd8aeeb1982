"""Pictures of landings, frozen at the contact: the last one, and the best of the session.

They are small cuts round the near leg, held in memory only: nothing here is ever written, and all
of it is gone with the session.
"""

from __future__ import annotations

from collections import deque
from dataclasses import replace

import numpy as np

from station.coach.scene import LandingMark, LandingStill
from station.live.marks import landing_mark
from station.live.record import Judged
from station.values import Frame, Verdict, View

FRAMES = 16
"""Pictures waited with: at 60 a second a verdict follows its contact by four to eight of them."""
NEAREST_S = 0.03
"""A picture farther from the contact shows no landing any more."""
ASIDE_M = 0.45
"""Cut out beside the knee, to each side."""
ABOVE_M, BELOW_M = 1.05, 0.12
"""Cut out above and below the belt: the hip is in it."""


class StillKeeper:
    """Keeps the newest pictures and two stills. Used by the loop's thread."""

    def __init__(self) -> None:
        """Begin with no picture."""
        self._frames: deque[Frame] = deque(maxlen=FRAMES)
        self.last: LandingStill | None = None
        self.best: LandingStill | None = None

    def frame(self, frame: Frame | None) -> None:
        """Take a picture before its pose is worked through; None: there is none."""
        if frame is not None:
            self._frames.append(frame)

    def landing(self, judged: Judged, verdict: Verdict | None, view: View | None) -> None:
        """Take a landing that the runner is told the verdict of.

        Args:
            judged: The landing; one of the far leg is hidden by the near one and makes no still.
            verdict: As it is told; None: nothing is kept.
            view: Where the belt lies in the picture; None: not known.
        """
        landing = judged.landing
        if verdict is None or view is None or not landing.near or landing.shank_deg is None:
            return
        frame = min(self._frames, key=lambda f: abs(f.t_s - landing.t_contact_s), default=None)
        if frame is None or abs(frame.t_s - landing.t_contact_s) > NEAREST_S:
            return
        mark = landing_mark(landing, verdict, judged.border_deg, view, landing.t_contact_s)
        still = cut_out(frame, mark, view, judged.limit_deg)
        if still is None:
            return
        self.last = still
        if verdict == "within" and (self.best is None or _off(still) < _off(self.best)):
            self.best = still

    def pair(self) -> tuple[LandingStill, ...]:
        """Return the last landing's still and, where it is another one, the best one's."""
        if self.last is None:
            return ()
        if self.best is None or self.best is self.last:
            return (self.last,)
        return self.last, self.best


def _off(still: LandingStill) -> float:
    """Return how far a landing's shank was off the plumb line, degrees."""
    return abs(still.mark.shank_deg or 0.0)


def cut_out(
    frame: Frame, mark: LandingMark, view: View, limit_deg: float | None
) -> LandingStill | None:
    """Cut a landing out of its picture, with its points in the cut's own pixels.

    Args:
        frame: The picture nearest to the contact.
        mark: The landing, in that picture's pixels.
        view: Of that picture.
        limit_deg: What it was judged by.

    Returns:
        The still, with a copy of the pixels; None: nothing of it lies in the picture.
    """
    high, wide = frame.image.shape[:2]
    x, y = mark.plumb_px
    if not np.isfinite([x, y, *mark.knee_px]).all():
        return None
    scale = view.px_per_m
    left, right = round(x - ASIDE_M * scale), round(x + ASIDE_M * scale)
    top, low = round(y - ABOVE_M * scale), round(y + BELOW_M * scale)
    left, right, top, low = max(left, 0), min(right, wide), max(top, 0), min(low, high)
    if right - left < 8 or low - top < 8:
        return None
    image = frame.image[top:low, left:right].copy()

    def moved(p: tuple[float, float]) -> tuple[float, float]:
        return p[0] - left, p[1] - top

    own = replace(
        mark,
        age_s=0.0,
        knee_px=moved(mark.knee_px),
        ankle_px=moved(mark.ankle_px),
        heel_px=moved(mark.heel_px),
        toe_px=moved(mark.toe_px),
        plumb_px=moved(mark.plumb_px),
        limit_px=None if mark.limit_px is None else moved(mark.limit_px),
        ankle_on_belt_px=moved(mark.ankle_on_belt_px),
    )
    return LandingStill(
        Frame(frame.t_s, frame.index, image),
        replace(view, origin_px=moved(view.origin_px)),
        own,
        limit_deg,
    )
