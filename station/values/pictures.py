"""Pictures and the poses found in them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from station.values.body import Floats


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
