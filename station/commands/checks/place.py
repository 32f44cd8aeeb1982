"""Checks the place: the folders that are written into, and the display."""

from __future__ import annotations

from pathlib import Path

from station.coach.setup.bounds import LOW_BYTES, NONE_BYTES
from station.commands.checks.finding import Finding, device_fault
from station.errors import BadInput, DeviceTrouble
from station.keep.records_folder import look_at, records_folder
from station.show.displays import desktop_size
from station.show.legibility import text_scale
from station.values import Bay

SESSIONS = Path("out")
"""Where `station run` makes its folders."""
_WIDTH, _HEIGHT = 1280, 720
_LARGEST_SCALE = 1.3


def disk_findings(bay: Bay) -> list[Finding]:
    """Look at the folder of the records and at that of new sessions."""
    return [
        _folder("disk, records", records_folder(bay.records_folder), "folder in [records]"),
        _folder("disk, sessions", SESSIONS, "start in another folder, or give --out"),
    ]


def _folder(what: str, path: Path, elsewhere: str) -> Finding:
    room = look_at(path)
    if room.trouble is not None or room.free_bytes is None:
        return Finding(
            what, f"{path} cannot be written ({room.trouble})", "fault",
            f"give this user the right to, or {elsewhere}", BadInput.exit_code,
        )  # fmt: skip
    made = "" if room.there else " (will be made)"
    found = f"{path}{made}: {room.free_bytes / 1e9:.1f} GB free"
    if room.free_bytes < NONE_BYTES:
        return device_fault(what, f"{found}: full", f"make room, or {elsewhere}")
    if room.free_bytes < LOW_BYTES:
        return Finding(what, f"{found}: little", "look", f"make room, or {elsewhere}")
    return Finding(what, found)


def screen_findings(bay: Bay) -> list[Finding]:
    """Look at the display's size, and whether it can be read from where the runner is."""
    try:
        width, height = desktop_size()
    except DeviceTrouble as trouble:
        return [device_fault("screen", str(trouble), "connect a display, or use --headless")]
    found = f"{width} x {height}"
    if width < _WIDTH or height < _HEIGHT:
        return [Finding("screen", f"{found}: smaller than {_WIDTH} x {_HEIGHT}", "look",
                        "a larger display: the station's text shrinks with it")]  # fmt: skip
    if bay.screen_diagonal_m is None:
        return [Finding("screen", f"{found}; its size is not known", remedy="set diagonal_m in "
                        "[screen], so that text is large enough for the distance")]  # fmt: skip
    scale = text_scale(bay.screen_diagonal_m, bay.viewing_distance_m, _WIDTH, _HEIGHT)
    found += f", {bay.screen_diagonal_m:g} m across, {bay.viewing_distance_m:g} m away"
    if scale >= _LARGEST_SCALE:
        return [Finding("screen", f"{found}: the text stays too small", "look",
                        "a larger display, or nearer to the runner")]  # fmt: skip
    return [Finding("screen", found)]
