"""What the set-up's steps are given, what they ask for, and the profile that comes of it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from station.values import Bay, Pose

# --- what a step is given -----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Quality:
    """How bright and how sharp the pictures are, as `station.see.picture_quality` finds it."""

    brightness: float
    """Mean grey level, 0 to 1."""
    white: float
    """Share that is wholly white."""
    edge_px: float | None
    """How wide edges are, pixels; None: nothing to go by."""


@dataclass(frozen=True, slots=True, eq=False)
class Facts:
    """One picture and what is known of it."""

    t_s: float
    index: int
    image: NDArray[np.uint8]
    """(height, width, 3) BGR, read only."""
    pose: Pose | None
    quality: Quality | None = None
    """None: not looked at this time."""


@dataclass(frozen=True, slots=True)
class Camera:
    """A camera that can be picked."""

    device: int | str
    name: str


@dataclass(frozen=True, slots=True)
class Opened:
    """A source gives pictures now."""

    name: str
    width: int
    height: int
    fps: float
    """As it says."""
    live: bool
    exposure_s: float | None = None
    """What it says its exposure is; None: it does not say."""
    locked: bool = False
    """The exposure is held at what was asked for."""
    lock_refused: bool = False
    """It was asked to hold its exposure, and does not."""


@dataclass(frozen=True, slots=True)
class Heard:
    """What came of the sound's measuring."""

    speaker: str
    asked_s: float
    """From asking for a tick to its arrival at the microphone."""
    told_s: float
    """How much later than the device tells it arrived."""
    above_db: float | None
    """How loud the ticks are above the room's own noise; None: not known."""


@dataclass(frozen=True, slots=True)
class Clapped:
    """What came of listening for claps."""

    late_s: float
    """How much later the pictures are timed than the sound."""
    spread_s: float
    """Largest less smallest of the claps."""
    claps: int
    """Seen and heard."""


@dataclass(frozen=True, slots=True)
class Folder:
    """What came of looking at a folder."""

    path: str
    free_bytes: int | None
    trouble: str | None


@dataclass(frozen=True, slots=True)
class Saved:
    """The profile is on the disk."""

    path: str
    kept: str | None
    """Where the one before is; None: there was none."""


@dataclass(frozen=True, slots=True)
class Failed:
    """What was wished for could not be done."""

    what: Literal["camera", "sound", "clap", "folder", "save"]
    why: str
    """Written for the user."""


Told = Opened | Heard | Clapped | Folder | Saved | Failed


# --- what a person does -------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Clicked:
    """A point of the camera's picture was marked, image pixels."""

    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Chosen:
    """A place on the page was touched, or the key that stands on it pressed."""

    id: str


@dataclass(frozen=True, slots=True)
class Typed:
    """A sign was typed; `erase` stands for taking the last one back."""

    sign: str


@dataclass(frozen=True, slots=True)
class Nudged:
    """An arrow key: by so much to the right and down."""

    right: int
    down: int


Done = Clicked | Chosen | Typed | Nudged


# --- what a step asks for -----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class OpenCamera:
    """Open this camera in place of the one that is open."""

    device: int | str
    exposure_s: float | None = None
    """Hold the exposure at so much; None: the camera's own automatic."""


@dataclass(frozen=True, slots=True)
class MeasureSound:
    """Play ticks and listen for them, at this volume."""

    volume: float


@dataclass(frozen=True, slots=True)
class ListenForClaps:
    """Listen for some seconds, and hold what is heard against the hands that are seen."""

    far_m: float
    """From the hands to the microphone."""


@dataclass(frozen=True, slots=True)
class LookAtFolder:
    """Find out whether it can be written; None: the user's own data folder."""

    path: str | None


@dataclass(frozen=True, slots=True)
class Save:
    """Write the profile."""


Wish = OpenCamera | MeasureSound | ListenForClaps | LookAtFolder | Save


# --- what comes of it ---------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Draft:
    """The profile as it stands."""

    bay: Bay = field(default_factory=Bay)
    touched: frozenset[str] = frozenset()
    """Keys that were set here, such as `camera.roll_deg`: only those are written."""
    camera: Opened | None = None
    """What is open now; None: nothing."""
    device: int | str | None = None
    """The camera that was asked for last; None: none was."""

    @property
    def now(self) -> int | str:
        """The camera that is to be opened again with another exposure."""
        return self.bay.device if self.device is None else self.device
