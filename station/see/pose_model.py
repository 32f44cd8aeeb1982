"""The pose model: one body's 33 landmarks in a picture, followed from frame to frame."""

from __future__ import annotations

import numpy as np

from station.errors import BadInput, StationError
from station.see.opencv import cv2
from station.see.pose_graph import CHATTER, PoseGraph
from station.see.quiet import without_lines
from station.values import Frame, Pose

SMALLEST_PX = 64
LARGEST_PX = 8192
WARM_UP_PICTURES = 2  # the first answer takes about 30 times as long as the next
SHORTEST_STEP_US = 1000
ASSUMED_STEP_US = 16667


class MediapipePose:
    """Find poses with the mediapipe package's full model; the station's `PoseModel`."""

    def __init__(self, threads: int = 1, whole: bool = False) -> None:
        """Load the model and warm it up on blank pictures; takes a second or two.

        Args:
            threads: Threads of the inference, 1 or more. The landmarks are the same with any
                number. Two take about 0.6 of the time where nothing else runs; beside other work
                they wait for each other by spinning, and one costs less.
            whole: With all that the package's model works out, for comparison: the same landmarks.

        Raises:
            DeviceTrouble: The package or a system library is missing; the text says what to do.
            StationError: The package is of another release and its graph is not the one known.
        """
        if threads < 1:
            raise BadInput(f"the pose model's threads: {threads}; allowed is 1 or more")
        self.detected_anew = 0
        """How often `find` detected afresh because it was asked to."""
        self._follow = True
        self._t_us = 0
        self._shown_t_us: int | None = None
        with without_lines(CHATTER):
            self._graph: PoseGraph | None = PoseGraph(threads, whole)
            blank = np.zeros((360, 640, 3), np.uint8)
            for _ in range(WARM_UP_PICTURES):
                self._t_us += ASSUMED_STEP_US
                self._graph.find(blank.copy(), True, self._t_us)

    def find(self, frame: Frame) -> Pose:
        """Return the pose in `frame`, in its own pixels, as the camera sees it.

        Args:
            frame: The picture; each side from 64 to 8192 px. Its time need not increase.

        Returns:
            The pose with the frame's time and index; `Pose.nobody` where nobody is found. Points
            may lie outside the picture: the model guesses hidden and cropped limbs.

        Raises:
            BadInput: A picture that the model cannot take.
            StationError: The model was closed, or failed.
        """
        if self._graph is None:
            raise StationError("the pose model is closed; make a new one")
        image = frame.image
        _check(image)
        height, width = image.shape[:2]
        rgb = cv2.cvtColor(image, cv2.COLOR_BGR2RGB)
        follow, self._follow = self._follow, True
        if not follow:
            self.detected_anew += 1
        try:
            found = self._graph.find(rgb, follow, self._next_t_us(frame.t_s))
        except (RuntimeError, ValueError) as error:  # how the graph tells of its own faults
            raise StationError(f"the pose model failed at frame {frame.index}: {error}") from error
        if found is None:
            return Pose.nobody(frame.t_s, frame.index, width, height)
        shares, visibility = found
        return Pose(frame.t_s, frame.index, shares * (width, height), visibility, width, height)

    def detect_anew(self) -> None:
        """Let the next `find` detect afresh instead of following the last frame.

        That one `find` takes about two and a half times as long; tracking then goes on from what
        it found. Asking again before the next `find` changes nothing.
        """
        self._follow = False

    def close(self) -> None:
        """Free the model; safe to repeat."""
        graph, self._graph = self._graph, None
        if graph is not None:
            graph.close()

    def _next_t_us(self, t_s: float) -> int:
        """Return the graph's time of this frame: it must rise, whatever the frames' times do."""
        shown_us = round(t_s * 1e6) if np.isfinite(t_s) else None
        step_us = ASSUMED_STEP_US
        if shown_us is not None and self._shown_t_us is not None:
            step_us = shown_us - self._shown_t_us
            if not SHORTEST_STEP_US <= step_us <= 10_000_000:
                step_us = ASSUMED_STEP_US
        self._shown_t_us = shown_us
        self._t_us += step_us
        return self._t_us


def _check(image: np.ndarray) -> None:
    allowed = f"allowed is (height, width, 3) uint8, each side {SMALLEST_PX} to {LARGEST_PX} px"
    if image.dtype != np.uint8 or image.ndim != 3 or image.shape[2] != 3:
        raise BadInput(f"a picture of shape {image.shape} and type {image.dtype}: {allowed}")
    height, width = image.shape[:2]
    if min(height, width) < SMALLEST_PX or max(height, width) > LARGEST_PX:
        raise BadInput(f"a picture of {width} x {height} px: {allowed}")
