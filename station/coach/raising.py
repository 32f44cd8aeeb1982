"""Keeps step rate and belt speed from rising together: one new thing at a time."""

from __future__ import annotations

START_S = 60.0
"""Within so much of a drill, or of the other's rise, the second of the two does not rise."""
_SAME_MPS = 1e-6
_SAME_SPM = 1e-6


class RaiseGuard:
    """Watches rate and belt from drill to drill; one thread.

    Times are the running drill's own; what was in an earlier drill is before its time 0.
    """

    def __init__(self) -> None:
        """Begin with no drill run."""
        self._before: tuple[float | None, float | None] = (None, None)  # m/s, steps per minute
        self._belt_rose_s: float | None = None
        self._rate_rose_s: float | None = None
        self._held_spm: float | None = None

    def begin(self, belt_mps: float | None, target_spm: float | None) -> bool:
        """Begin a drill; return whether its step rate is held back at that of the drill before.

        Args:
            belt_mps: What its belt is to be set to; None: it stands.
            target_spm: Its target as a number; None: there is none yet, so it cannot rise.
        """
        belt, rate = self._before
        belt_up = belt is not None and belt_mps is not None and belt_mps > belt + _SAME_MPS
        rate_up = rate is not None and target_spm is not None and target_spm > rate + _SAME_SPM
        if belt_up:
            self._belt_rose_s = 0.0
        if rate_up and not belt_up:
            self._rate_rose_s = 0.0
        self._held_spm = rate if belt_up and rate_up else None
        return self._held_spm is not None

    def leave(
        self, belt_mps: float | None, target_spm: float | None, elapsed_s: float, by_coach: bool
    ) -> None:
        """End a drill. One that the coach left at once is not what the next is compared with.

        When belt and rate rose last is remembered: beginning anew makes no second rise possible.
        """
        if self._belt_rose_s is not None:
            self._belt_rose_s -= elapsed_s
        if self._rate_rose_s is not None:
            self._rate_rose_s -= elapsed_s
        if by_coach and elapsed_s < START_S:
            belt, rate = self._before
            self._before = (_lower(belt, belt_mps), _lower(rate, target_spm))
            return
        self._before = (
            self._before[0] if belt_mps is None else belt_mps,
            self._before[1] if target_spm is None else target_spm,
        )

    def kept(self, target_spm: float | None, elapsed_s: float) -> float | None:
        """Return the target as it may be now: held back at the start of a drill with a faster belt.

        Args:
            target_spm: As the drill and the coach set it.
            elapsed_s: Time in the drill.
        """
        if target_spm is None or self._held_spm is None or elapsed_s >= START_S:
            return target_spm
        return min(target_spm, self._held_spm)

    def may_raise_rate(self, elapsed_s: float) -> bool:
        """Return whether the coach may raise the rate now; a rise is noted."""
        if self._belt_rose_s is not None and elapsed_s - self._belt_rose_s < START_S:
            return False
        self._rate_rose_s = elapsed_s
        return True

    def may_raise_belt(self, elapsed_s: float) -> bool:
        """Return whether the coach may raise the belt's speed now; a rise is noted."""
        if self._rate_rose_s is not None and elapsed_s - self._rate_rose_s < START_S:
            return False
        self._belt_rose_s = elapsed_s
        return True


def _lower(one: float | None, two: float | None) -> float | None:
    if one is None or two is None:
        return two if one is None else one
    return min(one, two)
