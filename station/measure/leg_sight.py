"""Whether the lower legs are seen, or only guessed by the pose model.

A pose model places all of a body's points even where a panel, a handrail or the picture's edge
hide them. Its own visibility tells: in drawn and rendered runners, in bright and dim light, sharp
and smeared, the running mean of the six foot points is 0.81 and more; hidden from the knee down it
is 0.1 to 0.4, from the middle of the shank down 0.45 to 0.69.
"""

from __future__ import annotations

import numpy as np

from station.measure.history import ANKLE
from station.values import LEG_INDEX, Pose

_FEET = np.array([LEG_INDEX["left"][ANKLE:], LEG_INDEX["right"][ANKLE:]])
_HIDDEN = 0.68
"""Mean visibility below which the lower legs are taken as hidden."""
_SHOWN = 0.75
"""Above which they are taken as seen again: between the two, what was last said holds."""
_SHARE = 0.15
"""Weight of one frame in the running mean: one odd frame hides nothing."""


class LegSight:
    """Watches the visibility of ankles, heels and toes."""

    def __init__(self) -> None:
        """Begin with legs that are believed until a frame says otherwise."""
        self._mean: float | None = None
        self._hidden = False

    @property
    def visibility(self) -> float:
        """Running mean, 0 to 1; 1 where the tracker gives none."""
        return 1.0 if self._mean is None else self._mean

    def hidden(self, pose: Pose) -> bool:
        """Take one more frame and say whether the lower legs are guessed rather than seen.

        Args:
            pose: As the model gave it; nobody found, or no visibility given, changes nothing.
        """
        seen = pose.visibility[_FEET]
        known = seen[np.isfinite(seen)]
        if len(known):
            now = float(known.mean())
            self._mean = now if self._mean is None else self._mean + _SHARE * (now - self._mean)
            self._hidden = self._mean < (_SHOWN if self._hidden else _HIDDEN)
        return self._hidden
