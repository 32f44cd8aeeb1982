"""Which foot the beat's even places belong to, told by where the feet come down.

The beat knows no feet: its places simply alternate. Once several contacts in a row say which foot
steps on the even ones, the places are named so. If the runner changes over (a hop, a stumble, a
beat let pass), the names follow; the beat's time never does.
"""

from __future__ import annotations

from station.live.beats import NearBeat
from station.values import Side, other

AGREEING = 4
"""Contacts in a row that must say the same: two strides."""
NEAR_SHARE = 0.25
"""A contact further than this share of a step from its place says nothing: halfway between two
places it belongs to both."""


class FeetOnBeat:
    """Follows which foot steps on the even places. Used by one thread."""

    def __init__(self) -> None:
        """Begin without knowing."""
        self.even_foot: Side | None = None
        self._said: Side | None = None
        self._times = 0

    def forget(self) -> None:
        """Know nothing again: another beat begins."""
        self.even_foot = self._said = None
        self._times = 0

    def contact(self, side: Side, near: NearBeat | None) -> None:
        """Take one contact and the place that it is nearest to; None: there was no beat."""
        if near is None or near.number is None:
            return
        if abs(near.offset_s) > NEAR_SHARE * near.period_s:
            self._times = 0
            return
        says = side if near.number % 2 == 0 else other(side)
        self._times = self._times + 1 if says == self._said else 1
        self._said = says
        if self._times >= AGREEING:
            self.even_foot = says
