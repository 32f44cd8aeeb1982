"""What a coach sets: a plan of drills, as frozen values.

Pure values: `station.settings` reads them from a file and checks what is plausible; here only what
a wrong program could get wrong is checked.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from station.units import MPH_MPS
from station.values import BeatEvery, Belt, Side

DrillKind = Literal["run", "hop", "lean", "rest"]
Feedback = Literal["every step", "fading", "summary", "off"]
BeatFrom = Literal["target", "own"]
Otherwise = Literal["go on", "repeat", "step back", "end"]
"""What follows a drill whose mastery gate was not met in its length: the next drill; the same one
once more; the last drill before it at a slower belt, and up again from there; the session's end."""
CueOn = Literal["landing", "median"]
"""What a cue answers: each landing judged ahead, or the median of a leg's last three."""
RunnerFaces = Literal["front", "rear"]
"""Towards the treadmill's console, or away from it."""
StrikeTarget = Literal["forefoot", "midfoot"]
"""Forefoot asks for a forefoot landing; midfoot takes a midfoot or a forefoot one."""

STEP_RATE_SPM_RANGE = (60.0, 260.0)
"""What a target step rate may be, steps per minute: slow walking to fast hopping on the spot."""
BELT_SPEED_MPS_RANGE = (0.5 / 3.6, 7.0)
"""What a treadmill can be set to: 0.5 to about 25 km/h (machines' usual range; common practice, no
source)."""

SLOW_BELT_MPS = 4.0 * MPH_MPS
"""The belt's most in a hop drill, and where a runner faces away from the console and so steps
backwards (hops are done at 3 to 4 mph; common practice, no source)."""


@dataclass(frozen=True, slots=True)
class StepRate:
    """A drill's target step rate: a number, or a change from the runner's baseline."""

    spm: float | None = None
    """Steps per minute, fixed."""
    change_percent: float | None = None
    """Against the runner's baseline step rate at this belt speed; +5 is 5 % quicker."""
    own: bool = False
    """True: the change is against the runner's own rate as it was measured when the drill began."""

    def __post_init__(self) -> None:
        if (self.spm is None) == (self.change_percent is None):
            raise ValueError("a step rate is either a number or a change from the baseline")
        if self.own and self.spm is not None:
            raise ValueError("a fixed step rate is nobody's own")

    def target_spm(self, baseline_spm: float | None) -> float | None:
        """Return the target for a runner with this baseline.

        Args:
            baseline_spm: The runner's own step rate at this belt speed, or, where `own` says so,
                as measured when the drill began; None: not known.

        Returns:
            Steps per minute, kept within `STEP_RATE_SPM_RANGE`; None where the target is a change
            from a baseline that is not known.
        """
        if self.spm is not None:
            return self.spm
        if baseline_spm is None or self.change_percent is None:
            return None
        low, high = STEP_RATE_SPM_RANGE
        return min(high, max(low, baseline_spm * (1.0 + self.change_percent / 100.0)))


@dataclass(frozen=True, slots=True)
class Gate:
    """A mastery gate: the drill ends early once it is met."""

    share: float
    """Of each leg's judged landings that must be within, 0 to 1."""
    seconds: float
    """Over how long a time, the last one, counted without pauses."""
    landings: int = 20
    """Judged landings of each leg in that time; fewer prove nothing."""
    uncued_seconds: float = 30.0
    """The last part of `seconds`, in which no cue sounds and each leg must hold `share` too; never
    more than `seconds`."""
    rate_off: float = 0.03
    """Share of the target by which the step rate may be off; without a target the rate is free."""


@dataclass(frozen=True, slots=True)
class Drill:
    """One part of a plan."""

    name: str
    kind: DrillKind = "run"
    belt_speed_mps: float | None = None
    """None: the belt stands (rest, or a drill beside the belt)."""
    belt_speed_text: str | None = None
    """The belt speed as the coach wrote it, with its unit."""
    incline_percent: float = 0.0
    step_rate: StepRate | None = None
    seconds: float | None = None
    """Length by time; exactly one of this and `steps` is given."""
    steps: int | None = None
    """Length by landings of either foot."""
    hops: tuple[int, ...] = ()
    """Length of a hop drill by rounds: (8, 4, 2) is 8 hops on one foot, 8 on the other, then 4 and
    4, then 2 and 2."""
    first_foot: Side = "left"
    """The foot that each round of hops begins with."""
    landing_limit_deg: float | None = None
    """A fixed limit of the shank angle for both legs; None: from the baseline, or the fallback."""
    landing_change_deg: float = 0.0
    """The change of the shank angle asked for against the baseline; negative is less reach."""
    feedback: Feedback = "every step"
    beat: bool = True
    beat_every: BeatEvery = "step"
    beat_from: BeatFrom = "target"
    """Where a beat that starts begins: at the target, or at the runner's own measured rate, from
    where it climbs to the target by `beat_ramp` a step."""
    beat_ramp: float = 0.0
    """Most change of the beat's rate in one step, as a share; 0: changes come at once."""
    guides: bool = True
    view: bool = True
    """False: the runner does not see the picture itself."""
    advance: Gate | None = None
    otherwise: Otherwise = "go on"
    cue_on: CueOn = "landing"
    withhold: float = 0.0
    """Share of due cues that are left out at random, so that their effect can be told."""
    strike_target: StrikeTarget | None = None
    """None: how the foot strikes is never corrected."""
    heel_settles: bool = False
    """True: the heel is to come down after the forefoot in each stance."""
    runner_faces: RunnerFaces = "front"
    waist_belt: bool = False
    """Whether the elastic waist belt is worn."""
    ask_felt: bool = False
    """Whether the runner is asked afterwards how many of ten landings were good."""
    rate_test: bool = False
    """Whether the drill is one block of a test of several step rates at one belt speed."""
    attended: bool = False
    """True: never offered without a coach present."""

    def __post_init__(self) -> None:
        lengths = (self.seconds is not None, self.steps is not None, bool(self.hops))
        if sum(lengths) != 1:
            raise ValueError(f"drill {self.name!r}: give seconds, steps or hops, one of them")

    @property
    def hop_count(self) -> int:
        """How many hops a hop drill by rounds asks for, of both feet together."""
        return 2 * sum(self.hops)

    @property
    def belt(self) -> Belt | None:
        """What the treadmill should be set to; None: the belt stands."""
        if self.belt_speed_mps is None:
            return None
        return Belt(self.belt_speed_mps, self.incline_percent)

    @property
    def slow_belt(self) -> bool:
        """Whether its belt is never to be faster than `SLOW_BELT_MPS`."""
        backwards = self.kind == "lean" and self.runner_faces == "rear"
        return self.kind == "hop" or backwards

    @property
    def judges(self) -> bool:
        """Whether its landings are held against a limit: in no rest, and in hops only on request.

        Hops come down under the body whatever a runner's usual landing is, so the usual limit and
        the baseline of running say nothing of them.
        """
        if self.kind != "hop":
            return self.kind != "rest"
        asked = self.landing_limit_deg is not None or self.landing_change_deg != 0.0
        return asked or self.feedback != "off" or self.advance is not None or self.ask_felt

    @property
    def gives_baseline(self) -> bool:
        """Whether the runner runs untouched here, so that its landings may serve as baseline."""
        return (
            self.kind == "run"
            and self.belt_speed_mps is not None
            and self.feedback == "off"
            and not self.beat
        )


@dataclass(frozen=True, slots=True)
class Programme:
    """Which visit of a programme of several plans a plan is."""

    name: str
    """The programme's; the same in all its plans."""
    visit: int
    """From 1; the plans are run in this order."""
    of: int
    """How many visits the programme has."""

    def __post_init__(self) -> None:
        if not 1 <= self.visit <= self.of:
            raise ValueError(f"visit {self.visit} of {self.of} is none")


@dataclass(frozen=True, slots=True)
class Plan:
    """A named sequence of drills."""

    name: str
    drills: tuple[Drill, ...] = field(default_factory=tuple)
    programme: Programme | None = None
    """None: the plan stands alone."""

    def __post_init__(self) -> None:
        if not self.drills:
            raise ValueError(f"plan {self.name!r} has no drill")

    @property
    def needs_coach(self) -> bool:
        """Whether any drill may only be run with a coach present."""
        return any(drill.attended for drill in self.drills)

    def without_attended(self) -> Plan | None:
        """Return the plan as it may be run unattended; None when nothing of it is left."""
        rest = tuple(drill for drill in self.drills if not drill.attended)
        return Plan(self.name, rest, self.programme) if rest else None
