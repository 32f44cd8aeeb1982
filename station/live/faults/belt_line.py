"""Do the feet still come down on the belt line of the bay profile?

A camera that was moved since set-up, also before the station was started, sees the belt elsewhere.
"""

from __future__ import annotations

from collections import deque

import numpy as np

from station.values import Fault, Landing, View

SOLE_M = 0.037
"""How far over the belt the lower one of heel and toe is placed at contact: both points lie above
the sole (simulated runners, 0.035 rearfoot and 0.039 toes up, with 2 px of noise)."""
OFF_M, ON_M = 0.05, 0.03
LANDINGS = 12


class BeltLineWatch:
    """Follows the landings of a session. Used by one thread."""

    def __init__(self) -> None:
        """Begin without a landing."""
        self._off_m: deque[float] = deque(maxlen=LANDINGS)
        self._told_m: float | None = None

    def take(self, landing: Landing, view: View) -> None:
        """Take a landing, and the view that it was measured by."""
        feet_m = view.to_bay(np.array([landing.heel_px, landing.toe_px]))[:, 1]
        if not np.isfinite(feet_m).all():
            return
        self._off_m.append(float(feet_m.min()) - SOLE_M)
        if len(self._off_m) < LANDINGS:
            return
        off_m = float(np.median(self._off_m))
        least_m = OFF_M if self._told_m is None else ON_M
        self._told_m = off_m if abs(off_m) >= least_m else None

    def faults(self) -> tuple[Fault, ...]:
        """Return what is amiss now."""
        if self._told_m is None:
            return ()
        return (Fault("belt_line_off", values=(("cm", f"{100.0 * abs(self._told_m):.0f}"),)),)
