"""A second look at a picture: is there anybody beside the runner whom the pose model follows?

The pose model follows one body and tells of no other. So the runner is wiped out of a copy of the
picture, and a graph of its own, which follows nobody, looks for a body in what is left. Whoever is
hidden behind the runner is not seen until he steps aside.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from station.errors import StationError
from station.see.opencv import cv2
from station.see.pose_graph import CHATTER, PoseGraph
from station.see.quiet import without_lines
from station.values import LANDMARK_INDEX, Floats, Frame, Pose

LOOK_WIDTH = 640
"""The picture is looked at in this width: the model's first stage makes it smaller still."""
MARGIN = 0.06
"""What is wiped out beside and below the runner's points, as a share of their height."""
MARGIN_UP = 0.15
"""The same above: the points end at the face, the head does not."""
LEAST_SIZE = 0.55
"""A trunk shorter than this share of the runner's belongs to somebody well away from the belt."""
LEAST_VISIBILITY = 0.5
_STEP_US = 40_000
_SHOULDERS = [LANDMARK_INDEX["left_shoulder"], LANDMARK_INDEX["right_shoulder"]]
_HIPS = [LANDMARK_INDEX["left_hip"], LANDMARK_INDEX["right_hip"]]
Image = NDArray[np.uint8]


class SecondLook:
    """Looks for a second person. Used by one thread."""

    def __init__(self) -> None:
        """Load the model; takes about a second.

        Raises:
            DeviceTrouble: The pose package or a system library is missing.
            StationError: The package is of another release and its graph is not the one known.
        """
        self._t_us = 0
        with without_lines(CHATTER):
            self._graph: PoseGraph | None = PoseGraph(1)
            self._find(np.zeros((360, LOOK_WIDTH, 3), np.uint8))

    def look(self, frame: Frame, runner: Pose) -> bool:
        """Return whether somebody else is in the picture; takes 20 to 50 ms.

        Args:
            frame: The picture; it is not changed.
            runner: The pose found in it. With nobody found nobody is a second one: False.

        Raises:
            StationError: It was closed, or the model failed.
        """
        trunk_px = _trunk_px(runner.xy_px)
        if not np.isfinite(trunk_px):
            return False
        scale = LOOK_WIDTH / frame.image.shape[1]
        size = LOOK_WIDTH, max(1, round(frame.image.shape[0] * scale))
        small: Image = np.asarray(
            cv2.resize(frame.image, size, interpolation=cv2.INTER_AREA), np.uint8
        )
        wipe_out(small, runner.xy_px * scale)
        try:
            found = self._find(np.asarray(cv2.cvtColor(small, cv2.COLOR_BGR2RGB), np.uint8))
        except (RuntimeError, ValueError) as error:
            raise StationError(f"the second look failed at frame {frame.index}: {error}") from error
        if found is None:
            return False
        shares, visibility = found
        hips = shares[_HIPS].mean(axis=0)
        inside = bool(((hips > 0.0) & (hips < 1.0)).all())
        sure = float(visibility[[*_SHOULDERS, *_HIPS]].mean()) >= LEAST_VISIBILITY
        other_px = _trunk_px(shares * np.array(size) / scale)
        return inside and sure and other_px >= LEAST_SIZE * trunk_px

    def close(self) -> None:
        """Free the model; safe to repeat."""
        graph, self._graph = self._graph, None
        if graph is not None:
            graph.close()

    def _find(self, rgb: Image) -> tuple[Floats, Floats] | None:
        if self._graph is None:
            raise StationError("the second look is closed; make a new one")
        self._t_us += _STEP_US
        return self._graph.find(rgb, False, self._t_us)


def wipe_out(image: Image, points: Floats) -> None:
    """Wipe a body out of a picture: each row fades from what is left of it to what is right.

    Args:
        image: (h, w, 3), changed in place.
        points: (n, 2) the body's points, pixels; those not known are left out, none: nothing
            is done.
    """
    height, width = image.shape[:2]
    known = points[np.isfinite(points).all(axis=1)]
    if not len(known):
        return
    low, high = known.min(axis=0), known.max(axis=0)
    margin = MARGIN * (high[1] - low[1])
    x0, x1 = (int(np.clip(x, 0, width)) for x in (low[0] - margin, high[0] + margin + 1.0))
    y0 = int(np.clip(low[1] - MARGIN_UP * (high[1] - low[1]), 0, height))
    y1 = int(np.clip(high[1] + margin + 1.0, 0, height))
    if x1 <= x0 or y1 <= y0:
        return
    left = image[y0:y1, max(x0 - 1, 0)].astype(np.float32)
    right = image[y0:y1, min(x1, width - 1)].astype(np.float32)
    if x0 == 0:
        left = right
    elif x1 == width:
        right = left
    share = np.linspace(0.0, 1.0, x1 - x0, dtype=np.float32)[None, :, None]
    image[y0:y1, x0:x1] = left[:, None] * (1.0 - share) + right[:, None] * share


def _trunk_px(points: Floats) -> float:
    along = points[_SHOULDERS].mean(axis=0) - points[_HIPS].mean(axis=0)
    return float(np.hypot(*along))
