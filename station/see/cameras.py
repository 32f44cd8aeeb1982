"""The cameras that the system shows, by name."""

from __future__ import annotations

from pathlib import Path

from station.see.capture import found_devices

KERNEL = Path("/sys/class/video4linux")


def found_cameras(
    devices: Path = Path("/dev"), kernel: Path = KERNEL
) -> tuple[tuple[str, str], ...]:
    """Return (path, name) of each camera, in order of number.

    Args:
        devices: Where the devices are.
        kernel: Where the kernel says what each is; one camera often shows as two devices, of which
            the second gives no pictures: it is left out.
    """
    found = []
    for path in found_devices(devices):
        told = kernel / Path(path).name
        if _said(told / "index") not in ("", "0"):
            continue
        name = _said(told / "name")
        found.append((path, f"{name} ({path})" if name else path))
    return tuple(found)


def _said(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8", errors="replace").strip()
    except OSError:
        return ""
