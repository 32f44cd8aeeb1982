"""What a coach can ask for while a session runs, as typed messages."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class NextDrill:
    """Go on to the next drill now; on the last one the plan is done."""


@dataclass(frozen=True, slots=True)
class PreviousDrill:
    """Start the drill before this one anew; on the first one start that anew."""


@dataclass(frozen=True, slots=True)
class RepeatDrill:
    """Start this drill anew."""


@dataclass(frozen=True, slots=True)
class Pause:
    """Stop the drill's time, its counting, beat and cues."""


@dataclass(frozen=True, slots=True)
class Resume:
    """Go on where the pause began."""


@dataclass(frozen=True, slots=True)
class ChangeRate:
    """Change the target step rate of this drill."""

    by_spm: float = 1.0


@dataclass(frozen=True, slots=True)
class ChangeBelt:
    """Note that the belt was set to another speed; the station itself never drives it."""

    by_tenths: int = 1
    """Tenths of the unit that the drill's belt speed is written in."""


@dataclass(frozen=True, slots=True)
class ConfirmBelt:
    """Say that the belt runs at what was asked."""


@dataclass(frozen=True, slots=True)
class ChangeLimit:
    """Change the landing limit of this drill, both legs."""

    by_deg: float = 0.5
    """Positive allows more reach."""


@dataclass(frozen=True, slots=True)
class SetFeedback:
    """Turn the drill's cues, corrections and praise on or off; the beat goes on."""

    on: bool


@dataclass(frozen=True, slots=True)
class AnswerFelt:
    """Give the runner's own count of good landings, when asked."""

    good_of_ten: int
    """0 to 10."""


@dataclass(frozen=True, slots=True)
class SetSound:
    """Turn beat and cues on or off."""

    on: bool


@dataclass(frozen=True, slots=True)
class EndSession:
    """End the session now and keep what was recorded."""


Command = (
    NextDrill
    | PreviousDrill
    | RepeatDrill
    | Pause
    | Resume
    | ChangeRate
    | ChangeBelt
    | ConfirmBelt
    | ChangeLimit
    | SetFeedback
    | AnswerFelt
    | SetSound
    | EndSession
)
