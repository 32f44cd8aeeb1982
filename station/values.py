"""Frozen values that the parts of the station hand to each other.

Frames of reference: *image* is pixels as the camera sees it, x right, y down; *bay* is metres at
the runner's plane, x ahead (the way the runner faces), y up against gravity, origin on the belt.
Times are seconds on the session's clock. `None` or NaN means not known.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Side = Literal["left", "right"]
"""The runner's own left or right."""
Facing = Literal["left", "right"]
"""Which way the runner faces in the camera's image."""
Strike = Literal["rearfoot", "midfoot", "forefoot", "unsure"]
Verdict = Literal["within", "ahead"]
Gait = Literal["running", "walking", "unknown"]
Floats = NDArray[np.float64]

LANDMARKS: tuple[str, ...] = (
    "nose",
    "left_eye_inner", "left_eye", "left_eye_outer",
    "right_eye_inner", "right_eye", "right_eye_outer",
    "left_ear", "right_ear", "mouth_left", "mouth_right",
    "left_shoulder", "right_shoulder", "left_elbow", "right_elbow",
    "left_wrist", "right_wrist", "left_pinky", "right_pinky",
    "left_index", "right_index", "left_thumb", "right_thumb",
    "left_hip", "right_hip", "left_knee", "right_knee",
    "left_ankle", "right_ankle", "left_heel", "right_heel",
    "left_foot_index", "right_foot_index",
)  # fmt: skip
"""The pose model's 33 landmarks, in its order."""
LANDMARK_INDEX: dict[str, int] = {name: i for i, name in enumerate(LANDMARKS)}
LEG_PARTS: tuple[str, ...] = ("hip", "knee", "ankle", "heel", "foot_index")
"""One leg's chain from the hip down."""
LEG_INDEX: dict[Side, tuple[int, ...]] = {
    "left": tuple(LANDMARK_INDEX[f"left_{part}"] for part in LEG_PARTS),
    "right": tuple(LANDMARK_INDEX[f"right_{part}"] for part in LEG_PARTS),
}


def other(side: Side) -> Side:
    """Return the opposite side."""
    return "left" if side == "right" else "right"


# --- pictures and poses -------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """One camera picture."""

    t_s: float
    """When it was exposed, session clock."""
    index: int
    """Counts the frames that the source captured, from 0; a gap means frames dropped."""
    image: NDArray[np.uint8]
    """(height, width, 3), BGR. Read only: the source and the recorder share it."""

    def __post_init__(self) -> None:
        if self.image.ndim != 3 or self.image.shape[2] != 3 or self.image.dtype != np.uint8:
            raise ValueError(
                f"a frame's image is (height, width, 3) uint8, not "
                f"{self.image.shape} {self.image.dtype}"
            )


@dataclass(frozen=True, slots=True, eq=False)
class Pose:
    """One body's landmarks in one frame, image pixels, in the order of `LANDMARKS`."""

    t_s: float
    index: int
    xy_px: Floats
    """(33, 2); NaN where a landmark is not known. All NaN: nobody found."""
    visibility: Floats
    """(33,), 0 to 1; NaN where the tracker gives none."""
    width: int
    """Image width in pixels that `xy_px` refers to."""
    height: int

    def __post_init__(self) -> None:
        if self.xy_px.shape != (33, 2) or self.visibility.shape != (33,):
            raise ValueError(
                f"a pose has 33 landmarks, not {self.xy_px.shape} and {self.visibility.shape}"
            )

    @property
    def found(self) -> bool:
        """Whether any landmark is known."""
        return bool(np.isfinite(self.xy_px).any())

    @classmethod
    def nobody(cls, t_s: float, index: int, width: int, height: int) -> Pose:
        """Build the pose of a frame in which nobody was found."""
        return cls(t_s, index, np.full((33, 2), np.nan), np.full(33, np.nan), width, height)


# --- the view -----------------------------------------------------------------------------------


@lru_cache(maxsize=16)
def _axes(roll_deg: float, faces: Facing) -> Floats:
    roll = math.radians(roll_deg)
    ahead = 1.0 if faces == "right" else -1.0
    level = np.array([math.cos(roll), math.sin(roll)])
    up = np.array([math.sin(roll), -math.cos(roll)])
    axes = np.stack([ahead * level, up])
    axes.flags.writeable = False  # shared by all that ask
    return axes


@dataclass(frozen=True, slots=True)
class View:
    """How the runner's plane lies in the image: the projections between image and bay.

    Bay x is ahead along the horizontal, y up against gravity. The belt is the straight line
    through `origin_px` with its own slope; that slope beyond the camera's roll is the incline.
    """

    px_per_m: float
    faces: Facing
    origin_px: tuple[float, float]
    """A point on the belt surface, image pixels: bay (0, 0)."""
    roll_deg: float = 0.0
    """Camera roll: by how much a level line runs downhill to the image's right, degrees."""
    belt_rise_deg: float = 0.0
    """The belt's slope against the horizontal, degrees, positive uphill ahead of the runner."""

    def __post_init__(self) -> None:
        if not (self.px_per_m > 0.0 and math.isfinite(self.px_per_m)):
            raise ValueError(f"px_per_m is {self.px_per_m}; it must be over 0")

    @property
    def near_side(self) -> Side:
        """The runner's side that the camera sees: facing right, the right one."""
        return self.faces

    def axes(self) -> Floats:
        """Return (2, 2): rows are the bay's x and y unit vectors in image pixels."""
        return _axes(self.roll_deg, self.faces)

    def to_bay(self, xy_px: Floats) -> Floats:
        """Project image points (..., 2) in pixels to bay points (..., 2) in metres."""
        return (np.asarray(xy_px) - np.asarray(self.origin_px)) @ self.axes().T / self.px_per_m

    def to_image(self, xy_m: Floats) -> Floats:
        """Project bay points (..., 2) in metres to image points (..., 2) in pixels."""
        return np.asarray(xy_m) @ self.axes() * self.px_per_m + np.asarray(self.origin_px)

    def belt_height_m(self, xy_m: Floats) -> Floats:
        """Return the height (...) of bay points (..., 2) over the belt, square to it, metres."""
        rise = math.radians(self.belt_rise_deg)
        xy = np.asarray(xy_m)
        return np.asarray(xy[..., 1] * math.cos(rise) - xy[..., 0] * math.sin(rise))

    def plumb_on_belt(self, xy_m: Floats) -> Floats:
        """Return where the plumb line through bay points (..., 2) meets the belt, (..., 2), m."""
        x = np.asarray(xy_m)[..., 0]
        return np.stack([x, x * math.tan(math.radians(self.belt_rise_deg))], axis=-1)


@dataclass(frozen=True, slots=True)
class ViewProfile:
    """What a bay profile says of the view; what it leaves out (None) is learned from running."""

    faces: Facing | None = None
    px_per_m: float | None = None
    belt_line: tuple[tuple[float, float], tuple[float, float]] | None = None
    """Two points on the belt surface, image pixels, in any order."""
    width: int | None = None
    """Image width in which `px_per_m` and `belt_line` were taken; None: as the pictures come."""
    height: int | None = None
    roll_deg: float = 0.0

    def scaled_to(self, width: int, height: int) -> ViewProfile:
        """Return the profile for pictures of another size (the same view, resampled)."""
        if (
            self.width is None
            or self.height is None
            or (self.width, self.height) == (width, height)
        ):
            return self
        fx, fy = width / self.width, height / self.height
        line = self.belt_line
        if line is not None:
            line = ((line[0][0] * fx, line[0][1] * fy), (line[1][0] * fx, line[1][1] * fy))
        scale = None if self.px_per_m is None else self.px_per_m * fx
        return ViewProfile(self.faces, scale, line, width, height, self.roll_deg)


BeatEvery = Literal["step", "stride"]
BeatFeet = Literal["alike", "pitch", "pan"]


@dataclass(frozen=True, slots=True)
class Bay:
    """A bay profile: camera, view, limits and devices of one treadmill place."""

    name: str = "Bay"
    device: int | str = 0
    width: int = 1280
    height: int = 720
    fps: float = 60.0
    view: ViewProfile = field(default_factory=ViewProfile)
    belt_speed_limit_mps: float | None = None
    """Never asked beyond; None: the plan's own."""
    speaker: str | None = None
    """Part of a sound device's name; None: the system's default."""
    volume: float = 0.6
    """0 to 1, a factor on the amplitude of all sound."""
    beat_level: float = 1.0
    """0 to 1, a factor on the beat's amplitude beside the volume."""
    cue_level: float = 1.0
    cue_gap_s: float = 0.6
    """Least time between two cues."""
    beat_feet: BeatFeet = "alike"
    """How the beats of left and right foot are told apart."""
    sound_latency_s: float | None = None
    """What the sound device is opened with; None: what is best for its kind."""
    screen_diagonal_m: float | None = None
    viewing_distance_m: float = 2.5
    records_folder: str | None = None
    language: str = "en"
    """Of the words on the screen."""


@dataclass(frozen=True, slots=True)
class Belt:
    """What the treadmill is set to, by the coach's word: the station never drives it."""

    speed_mps: float
    incline_percent: float = 0.0


# --- what is measured ---------------------------------------------------------------------------


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
    """Shank angle at the landing instant; None: not measurable here."""
    shank_error_deg: float | None
    """Standard error of `shank_deg`, as estimated for this landing."""
    ankle_ahead_m: float | None
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
    shank_at_verdict_deg: float | None = None
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


# --- what is heard ------------------------------------------------------------------------------


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
