"""The beat as sample arithmetic: where every beat starts, with no drift ever.

Beat k since the last change of rate starts at sample round(anchor + k * period). `period` and
`anchor` are fractions, so the error of an onset is the rounding to the nearest sample and nothing
more, however long the session. (Adding up a rounded period instead is off by 3.7 ms after 1000
beats at 170 spm.) Only `anchor` is ever rounded, to a millionth of a sample, once per change of
rate, so that the fractions stay small.

A change may be spread over steps: from r to R in n equal parts, beat j of the ramp is followed by
one period of r + (R - r) j / n. n is the least with which no rate is further than the asked share
from the one before it, nor any period from its own.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil

from station.errors import BadInput

RATE_MIN_SPM = 30.0
RATE_MAX_SPM = 300.0
"""Beyond it two ticks could run into each other; nobody runs at it either."""
RAMP_MAX = 0.03
"""Most change of rate in one step of a ramp: runners follow a tempo shifted by 1 to 3 % without
noticing it (Van Dyck 2015, Sports Med Open 1:15)."""
_FINENESS = 2**20  # parts of a sample that an anchor is rounded to
_RATE_FINENESS = 10**6  # largest denominator of a rate in steps per minute


@dataclass(frozen=True, slots=True)
class Beat:
    """One beat whose place is fixed."""

    sample: int
    """Onset, samples of the stream."""
    period: float
    """To the next beat, samples, as the rate stands now."""
    number: int = 0
    """Counts all beats of the clock from 0, also over a pause and a change of rate."""


@dataclass(frozen=True, slots=True)
class _Ramp:
    """A change of rate that is under way."""

    begin: Fraction
    end: Fraction
    steps: int
    done: int = 0
    """-1: one step at the rate that it begins with comes first."""

    @property
    def rate(self) -> Fraction:
        """Of the step that runs now, steps per minute."""
        return self.begin + (self.end - self.begin) * max(0, self.done) / self.steps

    def next(self) -> _Ramp:
        """Return it one step later."""
        return replace(self, done=self.done + 1)


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


def check_ramp(ramp: float) -> None:
    """Refuse a ramp that is no share from 0 (none) to `RAMP_MAX`; raises BadInput."""
    if not 0.0 <= ramp <= RAMP_MAX:
        raise BadInput(
            f"the beat's ramp is {100.0 * ramp:g} % a step; allowed is 0 (at once) to "
            f"{100.0 * RAMP_MAX:g} %"
        )


class BeatClock:
    """Places the beats on a stream of samples. Used by one thread."""

    def __init__(self, sample_rate_hz: int) -> None:
        """Begin without a beat.

        Args:
            sample_rate_hz: Samples per second of the stream.
        """
        self._sample_rate_hz = sample_rate_hz
        self._rate: Fraction | None = None  # asked for; while a ramp runs, its end
        self._ramp: _Ramp | None = None
        self._count = 0
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

    def set_rate(
        self, rate_spm: float | None, at: int, ramp: float = 0.0, start_spm: float | None = None
    ) -> None:
        """Change the rate from sample `at` on; the rate that is kept already changes nothing.

        From one rate to another the phase is kept: at once, the share of a period that was still
        to run at `at` is still to run; with a ramp, the next beat stays where it is and the change
        begins behind it. A beat that starts sounds at `at`, yet never sooner than one period after
        the last beat, so that off and on again makes no double beat.

        Args:
            rate_spm: Steps per minute, one beat per step; None: no beat.
            at: The first sample that may still be changed: every beat before it must be taken.
            ramp: Most change of rate in one step, a share up to `RAMP_MAX`; 0: at once.
            start_spm: A beat that starts has this rate first, and ramps to `rate_spm` (with no
                ramp given, by `RAMP_MAX`); None: it starts at `rate_spm`. One that is kept already
                is not moved by it.

        Raises:
            BadInput: A rate or the ramp is out of range.
            ValueError: A beat before `at` has not been taken.
        """
        waiting = self.next_sample
        if waiting is not None and waiting < at:
            raise ValueError(f"the beat at sample {waiting} must be taken before a change at {at}")
        if rate_spm is None:
            self._rate = self._ramp = None
            return
        for given in (rate_spm, start_spm):
            if given is not None:
                check_rate(given)
        check_ramp(ramp)
        rate = _exact(rate_spm)
        if rate == self._rate:
            return
        if self._rate is None:
            first = rate if start_spm is None else _exact(start_spm)
            period = self._period_of(first)
            starts = Fraction(at) if self._last is None else max(Fraction(at), self._last + period)
            self._place_from(starts, period)
            self._ramp = _ramp(first, rate, ramp or RAMP_MAX, done=-1)
        elif ramp > 0.0:
            now = self._rate if self._ramp is None else self._ramp.rate
            self._ramp = _ramp(now, rate, ramp)
        else:
            period = self._period_of(rate)
            # Half a sample may be missing: the next beat can be rounded up onto `at`.
            to_run = max(Fraction(0), (self._place() - at) / Fraction(self._period, self._unit))
            self._place_from(at + to_run * period, period)
            self._ramp = None
        self._rate = rate

    def take(self, end: int) -> list[Beat]:
        """Return the beats not yet taken whose onset is before sample `end`, in order."""
        taken: list[Beat] = []
        while self._rate is not None and (onset := self._onset()) < end:
            if self._ramp is not None:
                self._climb(self._ramp)
            taken.append(Beat(onset, self._period / self._unit, self._count))
            self._last = onset
            self._count += 1
            self._next += 1
        return taken

    def _climb(self, ramp: _Ramp) -> None:
        """Give the step that the next beat begins its own rate."""
        ramp = ramp.next()
        self._place_from(self._place(), self._period_of(ramp.rate))
        self._ramp = None if ramp.done == ramp.steps else ramp

    def _period_of(self, rate: Fraction) -> Fraction:
        return 60 * self._sample_rate_hz / rate

    def _place_from(self, anchor: Fraction, period: Fraction) -> None:
        """Let the next beat lie at `anchor`, and the following ones a period apart."""
        self._unit = period.denominator * _FINENESS
        self._period = period.numerator * _FINENESS
        self._anchor = round(anchor * _FINENESS) * period.denominator
        self._next = 0

    def _place(self) -> Fraction:
        """Return where the next beat lies, samples, before rounding."""
        return Fraction(self._anchor + self._next * self._period, self._unit)

    def _onset(self) -> int:
        """Return the next beat's place rounded to the nearest sample, halves up."""
        place = self._anchor + self._next * self._period
        return (2 * place + self._unit) // (2 * self._unit)


def _exact(rate_spm: float) -> Fraction:
    return Fraction(rate_spm).limit_denominator(_RATE_FINENESS)


def _ramp(begin: Fraction, end: Fraction, most: float, done: int = 0) -> _Ramp | None:
    """Return the shortest ramp whose rates and periods change by `most` a step; None: no change."""
    least = min(begin, end)
    steps = ceil(abs(end - begin) / (Fraction(most).limit_denominator(_RATE_FINENESS) * least))
    return _Ramp(begin, end, steps, done) if steps else None
