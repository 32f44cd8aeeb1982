"""Picks the camera, with its live picture."""

from __future__ import annotations

from collections.abc import Sequence

from station.coach.choice import Choice
from station.coach.setup.drafting import with_bay
from station.coach.setup.page import Body, Reading, StepName
from station.coach.setup.step import Plain
from station.coach.setup.values import (
    Camera,
    Chosen,
    Done,
    Draft,
    Facts,
    Failed,
    OpenCamera,
    Told,
    Wish,
)
from station.values import Bay


def usual_device(cameras: Sequence[Camera], bay: Bay) -> int | str | None:
    """Return the bay's own camera, or the first that there is; None: there is none."""
    known = [camera.device for camera in cameras]
    if bay.device in known:
        return bay.device
    named = f"/dev/video{bay.device}"
    return named if named in known else next(iter(known), None)


class CameraStep(Plain):
    """Shows each camera's picture until the right one is picked."""

    name: StepName = "camera"

    def __init__(self, cameras: Sequence[Camera]) -> None:
        """Take the cameras that there are, the wished one first."""
        self._cameras = tuple(cameras)
        self._wanted: int | str | None = None
        self._trouble: str | None = None
        self._moving = False
        self._first: int | None = None

    def enter(self, draft: Draft) -> Wish | None:
        """Open the bay's own camera, or the first that there is."""
        self._first, self._moving = None, False
        if draft.camera is not None:
            return None
        self._wanted = usual_device(self._cameras, draft.bay)
        return self._open(draft)

    def take(self, done: Done, draft: Draft) -> Wish | None:
        """Open the camera that was chosen."""
        if not isinstance(done, Chosen) or not done.id.startswith("camera:"):
            return None
        self._wanted = self._cameras[int(done.id.partition(":")[2])].device
        return self._open(draft)

    def _open(self, draft: Draft) -> Wish | None:
        self._trouble, self._first, self._moving = None, None, False
        return None if self._wanted is None else OpenCamera(self._wanted, draft.bay.exposure_s)

    def see(self, facts: Facts, draft: Draft) -> None:
        """Notice that pictures come, one after the other."""
        if self._first is None:
            self._first = facts.index
        self._moving |= facts.index > self._first

    def told(self, told: Told, draft: Draft) -> None:
        """Keep why a camera did not open."""
        self._trouble = told.why if isinstance(told, Failed) and told.what == "camera" else None

    def body(self, draft: Draft) -> Body:
        """Return the list of cameras beside the picture of the one that is open."""
        offers = tuple(
            Choice(f"camera:{n}", camera.name, str(n + 1), camera.device == self._wanted, True)
            for n, camera in enumerate(self._cameras[:6])
        )
        return Body("setup_camera_how", self._readings(draft), offers=offers)

    def _readings(self, draft: Draft) -> tuple[Reading, ...]:
        if not self._cameras:
            return (Reading("setup_no_camera", "bad"),)
        if self._trouble is not None:
            return (Reading("setup_camera_trouble", "bad", (("why", self._trouble),)),)
        opened = draft.camera
        if opened is None:
            return (Reading("setup_camera_opens", "open"),)
        size = (("width", str(opened.width)), ("height", str(opened.height)))
        small = opened.width < 1280 or opened.height < 720
        return (
            Reading("setup_camera_moves", "good")
            if self._moving
            else Reading("setup_camera_waits", "open"),
            Reading("setup_camera_small" if small else "setup_camera_size",
                    "look" if small else "good", size),
        )  # fmt: skip

    def apply(self, draft: Draft) -> Draft:
        """Keep the camera and the size of its pictures."""
        opened = draft.camera
        if opened is None or not opened.live or self._wanted is None:
            return draft
        return with_bay(draft, device=self._wanted, width=opened.width, height=opened.height)
