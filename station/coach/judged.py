"""The judged landings of a drill as plain numbers: an endless drill has ten thousand an hour."""

from __future__ import annotations

import math
from array import array
from collections.abc import Iterator

from station.values import Verdict


class JudgedLandings:
    """In order; 17 bytes each."""

    def __init__(self) -> None:
        """Begin with none."""
        self._at_s = array("d")
        self._within = bytearray()
        self._read_deg = array("d")

    def add(self, at_s: float, within: bool, read_deg: float | None) -> None:
        """Take a landing.

        Args:
            at_s: Its time in the drill, seconds.
            within: Whether it was within the limit.
            read_deg: Its shank angle as read by itself, degrees; None: it was not read.
        """
        self._at_s.append(at_s)
        self._within.append(within)
        self._read_deg.append(math.nan if read_deg is None else read_deg)

    def __len__(self) -> int:
        """Return how many there are."""
        return len(self._at_s)

    def __iter__(self) -> Iterator[tuple[float, bool]]:
        """Yield each landing's time in the drill, and whether it was within."""
        return zip(self._at_s, map(bool, self._within), strict=True)

    def readings(self) -> Iterator[tuple[float, float]]:
        """Yield time in the drill and shank angle of those that were read."""
        both = zip(self._at_s, self._read_deg, strict=True)
        return ((at_s, deg) for at_s, deg in both if not math.isnan(deg))

    def verdicts(self) -> list[Verdict]:
        """Return their verdicts, in order."""
        return ["within" if within else "ahead" for within in self._within]
