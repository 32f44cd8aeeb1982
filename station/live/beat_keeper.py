"""Keeps the speaker's beat as the plan, the runner's own rate and the runner's feet want it."""

from __future__ import annotations

from station.coach.plan import STEP_RATE_SPM_RANGE, Drill
from station.live.beats import NearBeat
from station.live.feet import FeetOnBeat
from station.ports import Speaker
from station.values import BeatManner, Side

OWN_FRESH_S = 2.0
"""A step rate without a newer contact is no longer the runner's."""
OWN_WAIT_S = 10.0
"""A beat that is to start at the runner's own rate waits for it so long; then it starts at the
target, for a drill without its beat is worse."""


class BeatKeeper:
    """Tells the speaker what beat to keep, and only when that changes. Used by one thread."""

    def __init__(self, speaker: Speaker) -> None:
        """Begin without a beat.

        Args:
            speaker: Started.
        """
        self.own_spm: float | None = None
        """The runner's own rate as the drill began, or as soon as it was known; None: not yet."""
        self._speaker = speaker
        self._feet = FeetOnBeat()
        self._measured: tuple[float, float] | None = None  # steps per minute, time of last contact
        self._asked: tuple[float | None, BeatManner] = (None, BeatManner())
        self._start_spm: float | None = None
        self._wanted_s: float | None = None  # since when a beat is wanted that waits

    def measured(self, rate_spm: float | None, t_contact_s: float | None) -> None:
        """Take the runner's step rate as it is now.

        Args:
            rate_spm: None: too few steps, or they cannot be trusted now.
            t_contact_s: Of the last contact, session clock; None: there was none.
        """
        if rate_spm is None or t_contact_s is None:
            self._measured = None
            return
        low, high = STEP_RATE_SPM_RANGE
        self._measured = (min(high, max(low, rate_spm)), t_contact_s)

    def contact(self, side: Side, near: NearBeat | None) -> None:
        """Take one contact and its place on the beat, to name the places by the feet."""
        self._feet.contact(side, near)

    def start_drill(self) -> None:
        """Forget the own rate of the drill before."""
        self.own_spm = None
        self._wanted_s = None

    def note_own(self, t_s: float) -> None:
        """Keep the runner's own rate for this drill, once it is known."""
        if self.own_spm is None:
            self.own_spm = self._own_now(t_s)

    def keep(self, rate_spm: float | None, drill: Drill, t_s: float) -> float | None:
        """Have the beat kept as it is wanted now.

        Args:
            rate_spm: What the plan wants, steps per minute; None: no beat.
            drill: The drill that runs.
            t_s: Now, session clock.

        Returns:
            The rate that is asked of the speaker; None: no beat, or it still waits for the
            runner's own rate.
        """
        if rate_spm is None:
            self._wanted_s = None
        elif self._asked[0] is None:
            self._feet.forget()
            self._start_spm = None
            if drill.beat_from == "own":
                self._wanted_s = t_s if self._wanted_s is None else self._wanted_s
                self._start_spm = self._own_now(t_s)
                if self._start_spm is None and t_s - self._wanted_s < OWN_WAIT_S - 1e-9:
                    rate_spm = None
        manner = BeatManner(
            drill.beat_every, drill.beat_ramp, self._start_spm, self._feet.even_foot
        )
        asked = (rate_spm, manner)
        if asked != self._asked and not (rate_spm is None and self._asked[0] is None):
            self._asked = asked
            self._speaker.set_beat(*asked)
        return rate_spm

    def _own_now(self, t_s: float) -> float | None:
        if self._measured is None or t_s - self._measured[1] > OWN_FRESH_S:
            return None
        return self._measured[0]
