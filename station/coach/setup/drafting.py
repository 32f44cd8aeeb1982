"""Puts what was measured into the profile, and notes which of its keys were set."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from station.coach.setup.values import Draft

_VIEW = {"roll_deg": "camera.roll_deg", "faces": "view.runner_faces", "px_per_m": "view.px_per_m",
         "belt_line": "view.belt_line"}  # fmt: skip
_BAY = {
    "device": "camera.device", "width": "camera.width", "height": "camera.height",
    "fps": "camera.fps", "exposure_s": "camera.exposure_ms", "volume": "sound.volume",
    "screen_diagonal_m": "screen.diagonal_m", "viewing_distance_m": "screen.viewing_distance_m",
    "records_folder": "records.folder", "picture_late_s": "camera.picture_late_ms",
}  # fmt: skip


def with_bay(draft: Draft, **values: Any) -> Draft:
    """Return the profile with values of the bay itself set."""
    keys = {_BAY[name] for name in values}
    return replace(draft, bay=replace(draft.bay, **values), touched=draft.touched | keys)


def with_view(draft: Draft, **values: Any) -> Draft:
    """Return the profile with values of the view set; scale and line bring the picture's size."""
    keys = {_VIEW[name] for name in values}
    view = draft.bay.view
    camera = draft.camera
    if camera is not None and {"px_per_m", "belt_line"} & values.keys():
        view = view.scaled_to(camera.width, camera.height)
        values = {**values, "width": camera.width, "height": camera.height}
        keys |= {"view.width", "view.height"}
        if view.px_per_m is not None:
            keys.add("view.px_per_m")  # of the size as it is now
        if view.belt_line is not None:
            keys.add("view.belt_line")
    bay = replace(draft.bay, view=replace(view, **values))
    return replace(draft, bay=bay, touched=draft.touched | keys)
