"""The belt's speed in the picture, from the feet that it carries."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

import numpy as np

from station.measure.history import ANKLE, HEEL, TOE, History

_FIRST_STANCES = 4
_STANCES = 24
"""One stance's speed scatters by about 5 % (10 mm of noise, 60 fps); their mean by 1 %."""
_BOOT_S = 1.3
"""So much running shows both feet in stance at least once."""


@dataclass(frozen=True, slots=True)
class CarriedFoot:
    """One stance's measure of the belt's speed."""

    px_s: float
    """Speed back, plane pixels per second."""
    weight: float
    """Spread of its frame times, s^2: a longer, better filled stance counts for more."""


class BeltPace:
    """Belt speed in plane pixels per second: expected, then measured.

    Expected is what the profile's scale and the set belt speed say. Each stance adds a
    measurement; their mean takes over from four on. Without an expectation the first second
    and a third of running is looked through for feet that move back while they are low.
    """

    def __init__(self) -> None:
        """Begin with nothing known."""
        self._expected: float | None = None
        self._stances: deque[CarriedFoot] = deque(maxlen=_STANCES)
        self._boot: float | None = None
        self._measured: float | None = None

    @property
    def px_s(self) -> float | None:
        """Best value now, or None."""
        return self._measured or self._expected or self._boot

    @property
    def measured_px_s(self) -> float | None:
        """Mean of the last stances; None before four."""
        return self._measured

    def _measure(self) -> None:
        enough = len(self._stances) >= _FIRST_STANCES
        if enough:
            weight = sum(s.weight for s in self._stances)
            self._measured = sum(s.px_s * s.weight for s in self._stances) / weight
        else:
            self._measured = None

    def expect(self, px_s: float | None, factor: float = 1.0) -> None:
        """Set what the belt should do; `factor` is its change against before, where known."""
        self._expected = px_s
        self._stances = deque(
            (CarriedFoot(s.px_s * factor, s.weight) for s in self._stances), maxlen=_STANCES
        )
        if self._boot is not None:
            self._boot *= factor
        self._measure()

    def add_stance(self, foot: CarriedFoot) -> None:
        """Add one stance's measured speed; far-off ones are left out."""
        now = self.px_s
        if now is None or 0.6 * now < foot.px_s < 1.5 * now:
            self._stances.append(foot)
            self._measure()

    def boot(self, history: History, slope: float) -> bool:
        """Look through the first frames for the belt's speed; True once it is found.

        Args:
            history: Frames so far.
            slope: Belt rise, plane y per x.
        """
        t = history.t_s
        if len(t) < 12 or t[-1] - t[0] < _BOOT_S:
            return False
        speeds = []
        for side in (0, 1):
            feet = history.legs[:, side, ANKLE:]
            x = feet[:, :, 0].mean(axis=1)
            height = np.minimum(feet[:, HEEL - ANKLE, 1], feet[:, TOE - ANKLE, 1]) - slope * x
            k = max(1, round(0.035 / float(np.median(np.diff(t)))))
            if len(t) <= 2 * k:
                continue
            speed = (x[2 * k :] - x[: -2 * k]) / (t[2 * k :] - t[: -2 * k])
            height = height[k:-k]
            known = np.isfinite(speed) & np.isfinite(height)
            if known.sum() < 8:
                continue
            low = np.percentile(height[known], 3)
            reach = np.percentile(height[known], 97) - low
            carried = known & (speed < 0.0) & (height < low + 0.15 * reach)
            if carried.sum() >= 4:
                speeds.append(float(np.median(-speed[carried])))
        if not speeds:
            return False
        self._boot = float(np.mean(speeds))
        return True
