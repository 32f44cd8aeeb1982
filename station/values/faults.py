"""What is amiss with a device or with the machine, as a value."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

FAULT_KEYS: Mapping[str, str] = {
    "camera_lost": "the camera gives no picture and is opened again and again",
    "camera_frozen": "the camera gives the same picture again and again",
    "camera_silent": "no picture arrives and the camera's driver does not answer",
    "camera_dark": "the picture is nearly black",
    "camera_slow": "far fewer pictures a second than were asked for",
    "camera_moved": "what stands still is at another place in the picture than at the start",
    "camera_turned": "the camera was turned about its axis: every angle is false by as much",
    "belt_line_off": "the feet come down beside the belt line of the bay profile",
    "pose_failed": "the pose model failed and was started again",
    "pose_rate_lowered": "the machine measures fewer pictures a second than the camera gives",
    "thread_died": "a thread of the station failed and was started again",
    "sound_gone": "the sound device went away",
    "disk_low": "little room is left on the disk of the records",
    "disk_full": "the disk takes nothing more",
    "film_stopped": "the film ended before the session, as it could not be written",
    "clock_jumped": "the computer's wall clock was set",
    "stalled": "the station's loop stood still",
}
"""Every fault, by its key under `[troubles]` of the words file, with what it means."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is amiss now."""

    key: str
    """One of `FAULT_KEYS`."""
    blind: bool = False
    """Nothing of the runner can be seen meanwhile."""
    misleads: bool = False
    """What is measured meanwhile is false: no landing is judged."""
    values: tuple[tuple[str, str], ...] = ()
    """What to put into the text's {fields}."""

    def __post_init__(self) -> None:
        if self.key not in FAULT_KEYS:
            raise ValueError(f"{self.key!r} is no fault")
