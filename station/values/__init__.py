"""Frozen values that the parts of the station hand to each other.

Frames of reference: *image* is pixels as the camera sees it, x right, y down; *bay* is metres at
the runner's plane, x ahead (the way the runner faces), y up against gravity, origin on the belt.
Times are seconds on the session's clock. `None` or NaN means not known.
"""

from station.values.bay import Bay
from station.values.body import (
    LANDMARK_INDEX,
    LANDMARKS,
    LEG_INDEX,
    LEG_PARTS,
    Facing,
    Floats,
    Side,
    other,
)
from station.values.faults import FAULT_KEYS, Fault
from station.values.heard import (
    BeatEvery,
    BeatFeet,
    BeatManner,
    BeltAsked,
    Cue,
    CueKind,
    Heard,
    HopsAsked,
)
from station.values.pictures import Frame, Pose
from station.values.steps import (
    Belt,
    Gait,
    Landing,
    Notice,
    Observation,
    Step,
    StepRecord,
    Strike,
    TrueStep,
    Verdict,
)
from station.values.view import View, ViewProfile

__all__ = [
    "FAULT_KEYS",
    "LANDMARKS",
    "LANDMARK_INDEX",
    "LEG_INDEX",
    "LEG_PARTS",
    "Bay",
    "BeatEvery",
    "BeatFeet",
    "BeatManner",
    "Belt",
    "BeltAsked",
    "Cue",
    "CueKind",
    "Facing",
    "Fault",
    "Floats",
    "Frame",
    "Gait",
    "Heard",
    "HopsAsked",
    "Landing",
    "Notice",
    "Observation",
    "Pose",
    "Side",
    "Step",
    "StepRecord",
    "Strike",
    "TrueStep",
    "Verdict",
    "View",
    "ViewProfile",
    "other",
]
