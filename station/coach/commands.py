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
class SetSound:
    """Turn beat and cues on or off."""

    on: bool


@dataclass(frozen=True, slots=True)
class EndSession:
    """End the session now and keep what was recorded."""


Command = (
    NextDrill | PreviousDrill | Pause | Resume | ChangeRate | ChangeBelt | SetSound | EndSession
)
