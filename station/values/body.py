"""The body's sides and landmarks."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

Side = Literal["left", "right"]
"""The runner's own left or right."""


Facing = Literal["left", "right"]
"""Which way the runner faces in the camera's image."""


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
