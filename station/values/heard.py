"""The beat, the cues, and what was heard of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from station.values.body import Side

BeatEvery = Literal["step", "stride"]


BeatFeet = Literal["alike", "pitch", "pan"]


CueKind = Literal["ahead", "praise", "come_forward", "stop_feet_aside", "paused"]


@dataclass(frozen=True, slots=True)
class BeatManner:
    """How a beat is kept, beside its rate."""

    every: BeatEvery = "step"
    """What one beat is for; the rate is in steps per minute either way."""
    ramp: float = 0.0
    """Most change of rate in one step, as a share; 0: a change comes at once."""
    start_spm: float | None = None
    """A beat that starts has this rate first and climbs to its own; None: its own at once."""
    even_foot: Side | None = None
    """The foot that steps on the places of even number; None: not known, so all sound alike."""


@dataclass(frozen=True, slots=True)
class Cue:
    """One sound of correction, asked for by the coaching policy."""

    kind: CueKind
    t_asked_s: float
    side: Side | None = None
    """The foot it is about."""


@dataclass(frozen=True, slots=True)
class BeltAsked:
    """Another belt setting, asked of a person; whoever sets the belt is told."""

    t_s: float
    """When it was asked, session clock."""
    speed_mps: float
    incline_percent: float = 0.0


@dataclass(frozen=True, slots=True)
class HopsAsked:
    """Hops that begin now, or end: who runs was told of them beforehand and counts alone."""

    rounds: tuple[int, ...]
    """How many on each foot, round by round; empty: no more hops."""
    first_foot: Side = "left"
    """The foot that each round begins with."""


@dataclass(frozen=True, slots=True)
class Heard:
    """One beat or cue as it left the loudspeaker; a source that can listen is told of it."""

    kind: Literal["beat", "offbeat"] | CueKind
    """`offbeat`: the silent place of the other foot's step where one beat is kept per stride; it is
    told for reckoning, and nobody hears it."""
    t_s: float
    """Onset, session clock."""
    side: Side | None = None
    """The foot that a cue is about, or that steps on this beat; None: both, or not known."""
    period_s: float | None = None
    """For a beat or offbeat: the time of one step, as the rate stands now."""
    number: int | None = None
    """For a beat or offbeat: counts the steps' places of the stream; even and odd ones are for one
    foot each."""
    steps: int = 1
    """For a beat: steps up to the next beat, 2 where one is kept per stride."""
