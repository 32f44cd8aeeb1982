"""Watches the target step rate against the runner's own at the same belt speed, drill by drill."""

from __future__ import annotations

from station.coach.baseline import same_belt
from station.coach.rate_check import RateFlag, flag_rate
from station.values import Belt


class RateWatch:
    """Remembers the targets used at each belt setting. Used by one thread."""

    def __init__(self, attended: bool) -> None:
        """Begin with no target used.

        Args:
            attended: A coach stands by, whose word a target out of the ordinary needs. Unattended
                such a target is not used, but the nearest one that is in order.
        """
        self._attended = attended
        self._used: list[tuple[Belt, float]] = []

    def look(
        self, target_spm: float | None, own_spm: float | None, belt: Belt | None
    ) -> tuple[float | None, RateFlag | None]:
        """Return the target that is to be used, and what is out of the ordinary about the asked.

        Args:
            target_spm: As drill and coach set it; None: there is none.
            own_spm: The runner's baseline at this belt setting; None: not known.
            belt: What the belt is set to; None: it stands, or nobody knows.
        """
        if target_spm is None or own_spm is None or belt is None:
            return target_spm, None
        before = next((spm for of, spm in reversed(self._used) if same_belt(of, belt)), None)
        flag = flag_rate(target_spm, own_spm, before)
        if flag is None or self._attended:
            return target_spm, flag
        return flag.allowed_spm, flag

    def used(self, target_spm: float | None, belt: Belt | None) -> None:
        """Take the target that a drill was run at, as it ends."""
        if target_spm is not None and belt is not None:
            self._used.append((belt, target_spm))
