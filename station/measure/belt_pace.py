"""The belt's speed in the picture, from the feet that it carries."""

from __future__ import annotations

from collections import deque

import numpy as np

from station.measure.history import ANKLE, HEEL, TOE, History

_BOOT_S = 1.3
"""So much running shows both feet in stance at least once."""


class BeltPace:
    """Belt speed in plane pixels per second: expected, then measured.

    Expected is what the profile's scale and the set belt speed say. Each stance adds a
    measurement; their median takes over from four on. Without an expectation the first second
    and a third of running is looked through for feet that move back while they are low.
    """

    def __init__(self) -> None:
        """Begin with nothing known."""
        self._expected: float | None = None
        self._stances: deque[float] = deque(maxlen=8)
        self._boot: float | None = None

    @property
    def px_s(self) -> float | None:
        """Best value now, or None."""
        if len(self._stances) >= 4:
            return float(np.median(self._stances))
        return self._expected or self._boot

    @property
    def measured_px_s(self) -> float | None:
        """Median of the last stances; None before four."""
        return float(np.median(self._stances)) if len(self._stances) >= 4 else None

    def expect(self, px_s: float | None, factor: float = 1.0) -> None:
        """Set what the belt should do; `factor` is its change against before, where known."""
        self._expected = px_s
        self._stances = deque((s * factor for s in self._stances), maxlen=8)
        if self._boot is not None:
            self._boot *= factor

    def add_stance(self, px_s: float) -> None:
        """Add one stance's measured speed; far-off ones are left out."""
        now = self.px_s
        if now is None or 0.6 * now < px_s < 1.5 * now:
            self._stances.append(px_s)

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
