"""The treadmill belt under the simulated runner: how fast it runs and how far it has run."""

from __future__ import annotations

from bisect import bisect_right

RAMP_MPS2 = 0.3
"""How quickly a treadmill changes its speed; common practice, no source."""


class MovingBelt:
    """A belt whose speed is constant but for ramps; its future is known as far as it is planned."""

    def __init__(self, speed_mps: float) -> None:
        """Run at `speed_mps` (m/s) from time 0, and before."""
        self._times = [0.0]
        self._speeds = [speed_mps]
        self._travels = [0.0]

    def speed_mps(self, t_s: float) -> float:
        """Return the speed at `t_s`, m/s."""
        i, into_s = self._piece(t_s)
        return self._speeds[i] + self._slope(i) * into_s

    def travel_m(self, t_s: float) -> float:
        """Return how far the belt has run since time 0, metres."""
        i, into_s = self._piece(t_s)
        return self._travels[i] + into_s * (self._speeds[i] + 0.5 * self._slope(i) * into_s)

    def change(self, from_s: float, speed_mps: float) -> float:
        """Ramp to `speed_mps` from `from_s` on (or from the end of the ramp before, if later).

        Returns:
            When the new speed is reached, seconds.
        """
        start_s = max(from_s, self._times[-1])
        before = self._speeds[-1]
        end_s = start_s + abs(speed_mps - before) / RAMP_MPS2
        for t_s, speed in ((start_s, before), (end_s, speed_mps)):
            if t_s > self._times[-1]:
                mean = 0.5 * (self._speeds[-1] + speed)
                self._travels.append(self._travels[-1] + mean * (t_s - self._times[-1]))
                self._times.append(t_s)
                self._speeds.append(speed)
        return end_s

    def _piece(self, t_s: float) -> tuple[int, float]:
        i = max(bisect_right(self._times, t_s) - 1, 0)
        return i, t_s - self._times[i]

    def _slope(self, i: int) -> float:
        if i + 1 >= len(self._times):
            return 0.0
        return (self._speeds[i + 1] - self._speeds[i]) / (self._times[i + 1] - self._times[i])
