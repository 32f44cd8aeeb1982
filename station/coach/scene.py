"""What is to be shown, as a value: the loop builds it, a painter paints it.

All points are image pixels as the camera sees them; the painter mirrors. A sentence is a key of
the words file, so that a scene holds no language.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from station.coach.figures import CoachFigures
from station.values import Floats, Frame, Side, Verdict, View

State = Literal["drill", "countdown", "rest", "felt", "paused", "done", "trouble"]
Tone = Literal["correction", "praise", "calm", "warning"]
AnswerKind = Literal["done", "refused", "asks"]


@dataclass(frozen=True, slots=True, eq=False)
class LandingMark:
    """Where one foot came down, against the plumb line from its knee."""

    side: Side
    verdict: Verdict | None
    """None: no verdict (the landing could not be judged, or its verdict is not `told`)."""
    age_s: float
    """Since the contact."""
    knee_px: tuple[float, float]
    ankle_px: tuple[float, float]
    heel_px: tuple[float, float]
    toe_px: tuple[float, float]
    plumb_px: tuple[float, float]
    """Foot of the knee's plumb line on the belt."""
    limit_px: tuple[float, float] | None
    """Where on the belt the ankle's plumb would fall at the runner's limit, the landing's own error
    added: beyond it a landing is ahead."""
    ankle_on_belt_px: tuple[float, float]
    """Where on the belt the ankle's plumb falls, by the angle that the verdict was taken on."""
    shank_deg: float | None
    told: bool = True
    """False: how it was judged is not to be told, which leaves `verdict` None as well."""


@dataclass(frozen=True, slots=True, eq=False)
class LandingStill:
    """A landing frozen at its contact; never written anywhere."""

    frame: Frame
    """The part of the camera's picture round the leg."""
    view: View
    """In that part's pixels, as are the mark's points."""
    mark: LandingMark
    limit_deg: float | None
    """What it was judged by."""


@dataclass(frozen=True, slots=True)
class TrailMark:
    """One of the last landings of a foot, for the strip."""

    side: Side
    verdict: Verdict | None
    over_limit_deg: float | None
    """Shank angle minus the limit and the landing's own error; positive: ahead."""
    cued: bool
    shank_deg: float | None = None
    """Of the landing; None: not known, or not to be told."""


@dataclass(frozen=True, slots=True)
class Sentence:
    """The one sentence on the screen."""

    key: str
    """Key under `[sentences]` of the words file."""
    tone: Tone
    values: tuple[tuple[str, str], ...] = ()
    """What to put into the sentence's {fields}."""


@dataclass(frozen=True, slots=True)
class KeyAnswer:
    """What a key of the coach did, asks to be pressed again for, or why it did nothing."""

    key: str
    """Key under `[sentences]` of the words file."""
    kind: AnswerKind
    values: tuple[tuple[str, str], ...] = ()
    """What to put into the text's {fields}."""


@dataclass(frozen=True, slots=True)
class Rhythm:
    """Step rate and beat, as the screen shows them."""

    step_rate_spm: float | None
    target_spm: float | None
    beat_age_s: float | None
    """Since the last beat's onset, None without a beat."""
    beat_period_s: float | None
    """From beat to beat: a stride where one beat is kept per stride."""
    offset_s: float | None
    """Mean of the last steps' offsets from the beat; negative is early."""
    beat_number: int = 0
    step_period_s: float | None = None
    """One step at the beat's rate, what `offset_s` is to be seen against; None: `beat_period_s`."""

    @property
    def offset_share(self) -> float | None:
        """The offset as a share of a step; None without an offset or a beat."""
        period_s = self.step_period_s or self.beat_period_s
        return None if self.offset_s is None or not period_s else self.offset_s / period_s


@dataclass(frozen=True, slots=True)
class HopStatus:
    """Where a hop drill stands."""

    foot: Side
    """The one to hop on now, the runner's own left or right."""
    hops_left: int
    """On that foot, before the change of feet."""
    round: int
    """From 1."""
    rounds: int


@dataclass(frozen=True, slots=True)
class FeltStatus:
    """The runner's own count of good landings, asked for after a drill."""

    good_of_ten: int | None = None
    """The answer, 0 to 10; None: none yet."""
    typed: int | None = None
    """A digit that may become an answer of two digits."""
    within: int | None = None
    """Of the last ten judged landings, as counted; shown only beside an answer. None: unknown."""
    judged: int = 10
    """How many landings that count is of; fewer than ten where fewer could be judged."""


@dataclass(frozen=True, slots=True)
class DrillStatus:
    """Where in the plan the session stands."""

    name: str
    number: int
    count: int
    belt_speed: str | None
    """As the coach wrote it, with its unit; None: the belt stands."""
    seconds_left: float | None
    steps_left: int | None = None
    belt_changes: bool = False
    """The belt speed differs from the drill before: say so unmistakably."""
    share_within: tuple[tuple[Side, float], ...] = ()
    belt_waits: bool = False
    """The drill stands still until the belt is said or seen to run at `belt_speed`."""
    belt_unchanged: bool = False
    """While it waits: the belt is seen to run on as before it was asked for."""
    belt_measured: str | None = None
    """What the belt is seen to run at, in the unit of `belt_speed`; None: it cannot be told."""
    belt_rises: bool | None = None
    """Whether the belt is to be set to more than it runs at; None: not known, or the same."""
    hop: HopStatus | None = None
    """Only in a hop drill by rounds."""
    proving: bool = False
    """The last part before mastery: no cue, no verdict shown."""


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """One picture of the runner's screen."""

    t_s: float
    state: State
    frame: Frame | None
    """The picture as the camera gave it; None: no picture yet."""
    view: View | None = None
    leg_near_px: Floats | None = None
    """(5, 2) hip, knee, ankle, heel, toe of the near leg, NaN where unknown."""
    leg_far_px: Floats | None = None
    drill: DrillStatus | None = None
    rhythm: Rhythm | None = None
    landings: tuple[LandingMark, ...] = ()
    """The newest contact of each foot, while it is fresh."""
    trail: tuple[TrailMark, ...] = ()
    """Oldest first."""
    sentence: Sentence | None = None
    notices: tuple[str, ...] = ()
    """Short lines of trouble that does not stop the session (sound off, frames dropped)."""
    show_view: bool = True
    show_guides: bool = True
    show_verdict: bool = True
    """False: the runner is not told how landings are judged: no strip of the last ones."""
    felt: FeltStatus | None = None
    """Only in the state `felt`."""
    answer: KeyAnswer | None = None
    """What the coach's last key did, or why it did nothing; for some seconds."""
    coach: CoachFigures | None = None
    """The coach's strip; None: it is not shown."""
    heading: str | None = None
    """Label over the sentence of a card; None: the state's own."""
    stills: tuple[LandingStill, ...] = ()
    """Shown on the stage instead of the picture: the last landing, then the session's best."""
