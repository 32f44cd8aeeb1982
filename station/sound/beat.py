"""The beat as sample arithmetic: where every beat starts, with no drift ever.

Beat k since the last change of rate starts at sample round(anchor + k * period). `period` and
`anchor` are fractions, so the error of an onset is the rounding to the nearest sample and nothing
more, however long the session. (Adding up a rounded period instead is off by 3.7 ms after 1000
beats at 170 spm.) Only `anchor` is ever rounded, to a millionth of a sample, once per change of
rate, so that the fractions stay small.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from station.errors import BadInput

RATE_MIN_SPM = 30.0
RATE_MAX_SPM = 300.0
"""Beyond it two ticks could run into each other; nobody runs at it either."""
_FINENESS = 2**20  # parts of a sample that an anchor is rounded to
_RATE_FINENESS = 10**6  # largest denominator of a rate in steps per minute


@dataclass(frozen=True, slots=True)
class Beat:
    """One beat whose place is fixed."""

    sample: int
    """Onset, samples of the stream."""
    period: float
    """To the next beat, samples, as the rate stands now."""


def check_rate(rate_spm: float) -> None:
    """Refuse a rate that no beat can keep.

    Raises:
        BadInput: `rate_spm` is not a number from `RATE_MIN_SPM` to `RATE_MAX_SPM`.
    """
    if not RATE_MIN_SPM <= rate_spm <= RATE_MAX_SPM:
        raise BadInput(
            f"the beat's rate is {rate_spm:g}; allowed is {RATE_MIN_SPM:g} to {RATE_MAX_SPM:g} "
            "steps per minute"
        )


class BeatClock:
    """Places the beats on a stream of samples. Used by one thread."""

    def __init__(self, sample_rate_hz: int) -> None:
        """Begin without a beat.

        Args:
            sample_rate_hz: Samples per second of the stream.
        """
        self._sample_rate_hz = sample_rate_hz
        self._rate: Fraction | None = None
        # Anchor and period as whole numbers of 1 / `_unit` sample: exact, and cheap per beat.
        self._unit = 1
        self._period = 1
        self._anchor = 0
        self._next = 0  # index of the first beat since the anchor that is not yet taken
        self._last: int | None = None  # onset of the last beat taken

    @property
    def next_sample(self) -> int | None:
        """Onset of the next beat in samples; None: no beat is kept."""
        return None if self._rate is None else self._onset()

    def set_rate(self, rate_spm: float | None, at: int) -> None:
        """Change the rate from sample `at` on; the rate that is kept already changes nothing.

        From one rate to another the phase is kept: the share of a period that was still to run
        at `at` is still to run. A beat that starts sounds at `at`, yet never sooner than one
        period after the last beat, so that off and on again makes no double beat.

        Args:
            rate_spm: Steps per minute, one beat per step; None: no beat.
            at: The first sample that may still be changed: every beat before it must be taken.

        Raises:
            BadInput: The rate is out of range.
            ValueError: A beat before `at` has not been taken.
        """
        waiting = self.next_sample
        if waiting is not None and waiting < at:
            raise ValueError(f"the beat at sample {waiting} must be taken before a change at {at}")
        if rate_spm is None:
            self._rate = None
            return
        check_rate(rate_spm)
        rate = Fraction(rate_spm).limit_denominator(_RATE_FINENESS)
        if rate == self._rate:
            return
        period = 60 * self._sample_rate_hz / rate
        if self._rate is not None:
            # Half a sample may be missing: the next beat can be rounded up onto `at`.
            to_run = max(Fraction(0), (self._place() - at) / Fraction(self._period, self._unit))
            anchor = at + to_run * period
        elif self._last is not None:
            anchor = max(Fraction(at), self._last + period)
        else:
            anchor = Fraction(at)
        self._rate = rate
        self._unit = period.denominator * _FINENESS
        self._period = period.numerator * _FINENESS
        self._anchor = round(anchor * _FINENESS) * period.denominator
        self._next = 0

    def take(self, end: int) -> list[Beat]:
        """Return the beats not yet taken whose onset is before sample `end`, in order."""
        taken: list[Beat] = []
        while self._rate is not None and (onset := self._onset()) < end:
            taken.append(Beat(onset, self._period / self._unit))
            self._last = onset
            self._next += 1
        return taken

    def _place(self) -> Fraction:
        """Return where the next beat lies, samples, before rounding."""
        return Fraction(self._anchor + self._next * self._period, self._unit)

    def _onset(self) -> int:
        """Return the next beat's place rounded to the nearest sample, halves up."""
        place = self._anchor + self._next * self._period
        return (2 * place + self._unit) // (2 * self._unit)
