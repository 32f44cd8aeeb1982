"""What is measured of landings and steps, and what is recorded of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from station.values.body import Side
from station.values.pictures import Pose
from station.values.view import View

Strike = Literal["rearfoot", "midfoot", "forefoot", "unsure"]


Verdict = Literal["within", "ahead"]


Gait = Literal["running", "walking", "unknown"]


@dataclass(frozen=True, slots=True)
class Belt:
    """What the treadmill is set to, by the coach's word: the station never drives it."""

    speed_mps: float
    incline_percent: float = 0.0


@dataclass(frozen=True, slots=True)
class Landing:
    """One initial contact as known when its verdict fell due; never changed afterwards.

    Angles to gravity, degrees; signs as in the design (ahead, forward, toes up are positive).
    """

    number: int
    """Counts the contacts of this run of the measurement, from 1."""
    side: Side
    near: bool
    t_contact_s: float
    t_verdict_s: float
    """Time of the newest frame that this value used."""
    shank_deg: float | None
    """Shank angle at the landing instant, the best estimate given this leg's landings so far; what
    the verdict, the mark and the records go by. None: not measurable here."""
    shank_error_deg: float | None
    """Standard error of `shank_deg`, as estimated for this landing."""
    ankle_ahead_m: float | None
    """As read, as are the points below."""
    foot_deg: float | None
    strike: Strike
    step_time_s: float | None
    """Since the previous contact of either foot; None for the first of a run of steps."""
    confidence: float
    """0 to 1."""
    knee_px: tuple[float, float]
    """Image pixels at the landing instant, as are the next three."""
    ankle_px: tuple[float, float]
    heel_px: tuple[float, float]
    toe_px: tuple[float, float]
    reading_deg: float | None = None
    """Shank angle as read from the frames of this landing alone."""
    reading_error_deg: float | None = None
    """Standard error of `reading_deg`."""

    @property
    def step_rate_spm(self) -> float | None:
        """Steps per minute of this one step."""
        return None if not self.step_time_s else 60.0 / self.step_time_s


@dataclass(frozen=True, slots=True)
class Step:
    """One step with all that was measured of it, final.

    It follows its `Landing` (same `number`) once the stance is over. Angles to gravity, degrees.
    """

    number: int
    side: Side
    near: bool
    t_contact_s: float
    t_verdict_s: float
    t_toe_off_s: float | None = None
    step_time_s: float | None = None
    contact_s: float | None = None
    flight_s: float | None = None
    """From this toe-off to the next contact of either foot; negative: double support."""
    duty_factor: float | None = None
    step_length_m: float | None = None
    ankle_ahead_m: float | None = None
    shank_deg: float | None = None
    """As read from all frames of this step alone."""
    shank_at_verdict_deg: float | None = None
    """The value that the verdict was taken on: the `shank_deg` of its `Landing`."""
    shank_loading_deg: float | None = None
    ankle_ahead_of_hip_m: float | None = None
    foot_deg: float | None = None
    strike: Strike = "unsure"
    heel_down_s: float | None = None
    """From contact to the heel's touch; None: not within the stance, or not seen."""
    knee_flexion_deg: float | None = None
    knee_flexion_peak_deg: float | None = None
    trunk_lean_deg: float | None = None
    body_lean_deg: float | None = None
    trailing_thigh_deg: float | None = None
    knee_drive_deg: float | None = None
    vertical_oscillation_m: float | None = None
    confidence: float = 0.0
    arm_swing_m: float | None = None
    """Fore-aft travel of this side's wrist against the hips, over the stride up to the contact."""
    hand_lowest_share: float | None = None
    """Lowest height of that wrist: 0 hip height, 1 shoulder height."""
    hand_highest_share: float | None = None
    shoulder_rotation_hint: float | None = None
    """Change of the shoulders' apparent breadth once per stride, in lengths from hips to shoulders:
    a hint at rotation and no more, for one side view cannot measure it."""
    pelvis_rotation_hint: float | None = None
    """The same of the hips."""
    toe_dive: bool | None = None
    """Steeply pointed at contact, and the heel never down within the stance; None: not seen."""

    @property
    def step_rate_spm(self) -> float | None:
        """Steps per minute of this one step."""
        return None if not self.step_time_s else 60.0 / self.step_time_s


@dataclass(frozen=True, slots=True)
class Notice:
    """Something amiss that does not stop the measuring but bears on its results."""

    key: str
    """Of the words file."""
    values: tuple[tuple[str, str], ...] = ()
    """For the {fields} of its text, ready to read."""


@dataclass(frozen=True, slots=True, eq=False)
class Observation:
    """All that the measurement says after one more pose."""

    t_s: float
    pose: Pose
    """The pose with its legs named right; as given where no repair was possible."""
    in_view: bool
    """Somebody is in the picture with both lower legs to be seen."""
    trouble: str | None
    """Why no verdict can be given now, as a key of the words file; None: all is well."""
    landings: tuple[Landing, ...] = ()
    steps: tuple[Step, ...] = ()
    step_rate_spm: float | None = None
    """Of the last steps together; None: too few."""
    view: View | None = None
    gait: Gait = "unknown"
    detect_anew: bool = False
    """Ask the pose model to detect afresh: its tracking has stuck."""
    notices: tuple[Notice, ...] = ()
    """What is amiss with the view now; verdicts go on."""
    belt_mps: float | None = None
    """The belt's speed as the last few stances show it; None: too few, or the scale is not known.
    It is measured without regard to what the belt is said to be set to."""


@dataclass(frozen=True, slots=True)
class TrueStep:
    """The simulated runner's exact truth of one step."""

    t_contact_s: float
    t_toe_off_s: float
    side: Side
    ankle_ahead_m: float
    shank_deg: float


@dataclass(frozen=True, slots=True)
class StepRecord:
    """One row of `steps.csv`: a step with what the session made of it."""

    step: Step
    drill: str
    landing: Verdict | None
    cued: bool
    t_cue_s: float | None
    beat_offset_s: float | None
    """Contact minus nearest beat, seconds; negative: the foot was early. With one beat per stride
    the other foot's contact is held against the middle between two beats."""
    beat_period_s: float | None = None
    """One step at the beat's rate then; None: not known."""
    withheld: bool = False
    """Its cue was due, and left out by the draw that the drill asks for."""
