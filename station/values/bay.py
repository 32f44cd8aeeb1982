"""A bay profile."""

from __future__ import annotations

from dataclasses import dataclass, field

from station.values.heard import BeatFeet
from station.values.view import ViewProfile


@dataclass(frozen=True, slots=True)
class Bay:
    """A bay profile: camera, view, limits and devices of one treadmill place."""

    name: str = "Bay"
    device: int | str = 0
    width: int = 1280
    height: int = 720
    fps: float = 60.0
    exposure_s: float | None = None
    """What the camera's exposure is held at; None: its own automatic."""
    view: ViewProfile = field(default_factory=ViewProfile)
    far_leg_error_deg: float | None = None
    """How far off the far leg's shank is read in this bay, as measured at set-up; None: it was
    never measured."""
    belt_speed_limit_mps: float | None = None
    """Never asked beyond; None: the plan's own."""
    hops_limit: int = 100
    """Most hops of a visit, both feet together. The default is what a beginner's visit of jumps is
    usually held to, 80 to 100 landings (common practice, no source)."""
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
    staff_code: str | None = None
    """Digits with which staff start a visit that needs a coach, and end a staff call; None: no
    unattended visits here."""
    belt_rear_px: tuple[float, float] | None = None
    """The belt's rear end in the camera's image, pixels of the view's own size; None: not known."""
    records_folder: str | None = None
    """None: among the user's own data."""
    records_url: str | None = None
    """A PostgreSQL server's database; None: SQLite in the folder."""
    keep_days: int | None = None
    """Visits older than this are erased; None: kept."""
    log_folder: str | None = None
    """Of the station's own log; None: beside the records."""
    log_megabytes: float = 5.0
    """Of all its files; the oldest lines go first."""
    log_quiet_s: float = 60.0
    """How long the same thing is not written again."""
    picture_late_s: float = 0.0
    """How much too late the camera's pictures are timed, as measured by a clap at set-up."""
    video: bool = False
    """Films of runners who allowed it."""
    language: str = "en"
    """Of the words on the screen."""
    coach_page: bool = False
    """Whether the coach's page listens from each session's start; a key turns it on and off."""
    coach_page_host: str = "0.0.0.0"
    """Address that it listens at; the default is every network that the machine is in."""
    coach_page_port: int = 8737
    coach_strip: bool = False
    """Whether the coach's figures are on the screen from the start; a key turns them on and off."""
    screen_lines: int = 720
    """Shorter side of the picture painted for the runner, pixels; the window enlarges it."""
    show_legs: bool = False
    """Whether the legs' lines are drawn over the picture, too."""
