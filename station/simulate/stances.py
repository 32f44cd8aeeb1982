"""The stances that are decided, and the hip's way through them and the flights between."""

from __future__ import annotations

from station.simulate.curve import Curve
from station.simulate.stance import Drift, Stance
from station.values import Side

KEPT = 12


class Stances:
    """Stances by their contact's number; only the newest are kept. Used by one thread."""

    def __init__(self, drift: Drift) -> None:
        """Begin without any.

        Args:
            drift: The hip's slow wander along the belt, metres, at a time.
        """
        self._drift = drift
        self._stances: dict[int, Stance] = {}
        self._flights: dict[int, tuple[Curve, Curve]] = {}
        """By the stance before: the hip's height and its sway."""
        self._last = 0

    @property
    def decided_s(self) -> float:
        """Until when all is decided."""
        return max(stance.t_toe_off_s for stance in self._stances.values())

    @property
    def newest_two(self) -> tuple[Stance, Stance]:
        """The last two, the older one first."""
        return self._stances[self._last - 1], self._stances[self._last]

    def add(self, stance: Stance) -> None:
        """Take the next one, and bridge the flight from the one before, where there is one."""
        number = self._last = stance.touch.number
        self._stances[number] = stance
        here = self._stances.get(number - 1)
        if here is not None:
            times = (here.t_toe_off_s, stance.touch.t_contact_s)
            height, sway = (
                _bridge(times, a, b)
                for a, b in ((here.hip_h, stance.hip_h), (here.sway, stance.sway))
            )
            self._flights[number - 1] = height, sway
        for old in [n for n in self._stances if n < number - KEPT]:
            del self._stances[old], self._flights[old]

    def change(self, stance: Stance) -> None:
        """Take another foot's way for one that is known; the hip's stays as it was."""
        self._stances[stance.touch.number] = stance

    def before(self, t_s: float) -> Stance:
        """Return the last one that began at or before `t_s`; the oldest kept where none did."""
        number = self._last
        while number - 1 in self._stances and self._stances[number].touch.t_contact_s > t_s:
            number -= 1
        return self._stances[number]

    def of(self, side: Side, t_s: float) -> Stance | None:
        """Return the one that this foot is in at `t_s`; None: it is in the air."""
        stance = self.before(t_s)
        down = stance.touch.side == side and (stance.touch.t_contact_s <= t_s <= stance.t_toe_off_s)
        return stance if down else None

    def hip_at(self, t_s: float) -> complex:
        """Return the hip in the belt's frame (along + i square to it), metres."""
        stance = self.before(t_s)
        height, sway = stance.hip_h, stance.sway
        if t_s > stance.t_toe_off_s:
            height, sway = self._flights[stance.touch.number]
        return complex(self._drift(t_s) + sway.value(t_s), height.value(t_s))


def _bridge(times_s: tuple[float, float], here: Curve, there: Curve) -> Curve:
    """Return a curve from one's value and rate at the first time to the other's at the second."""
    (p0, m0), (p1, m1) = here.at(times_s[0]), there.at(times_s[1])
    return Curve(times_s, (p0, p1), (m0, m1))
