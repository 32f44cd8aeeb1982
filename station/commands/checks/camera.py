"""Checks the camera: real frame rate, size, and how bright and sharp its pictures are."""

from __future__ import annotations

from dataclasses import dataclass

from station.clock import Clock
from station.coach.setup.bounds import (
    BLACK,
    BLURRED,
    BRIGHT,
    DARK,
    LEAST_FPS,
    LONGEST_S,
    WHITE_SHARE,
)
from station.commands.checks.finding import Finding, Tell, device_fault
from station.measure.setup.pace import is_enough, is_halved
from station.ports import EndOfStream, FrameSource, SourceInfo
from station.see.camera import CameraSource
from station.see.exposure import Exposure
from station.see.picture_quality import PictureQuality, picture_quality
from station.values import Bay, Frame

WATCH_S = 2.0
_SILENT_S = 3.0
_SETTLE_S = 0.25  # the first pictures come as they will
_KEPT = 16


@dataclass(frozen=True, slots=True, eq=False)
class Watched:
    """What a source gave."""

    kind: str
    """`camera`, `clip` or `demo`."""
    info: SourceInfo
    fps: float | None
    """As pictures came; None: fewer than two came."""
    frames: tuple[Frame, ...]
    """Some of them, spread over the time."""
    same: bool
    """All pictures were the same."""
    exposure: Exposure | None = None
    """What a camera says of its exposure; None: it is none, or was not asked."""


def watch(kind: str, source: FrameSource, clock: Clock, seconds: float, tell: Tell) -> Watched:
    """Open a source and take its pictures for so long; it is closed again.

    Raises:
        DeviceTrouble: The camera is missing, busy, or gives nothing.
        BadInput: The clip cannot be read.
    """
    tell(f"camera: watching for {seconds:g} s")
    try:
        info = source.start(clock, paced=True)
        return _watched(kind, source, clock, seconds, info)
    finally:
        source.stop()


def _watched(
    kind: str, source: FrameSource, clock: Clock, seconds: float, info: SourceInfo
) -> Watched:
    frames: list[Frame] = []
    every = max(1, round(info.fps * seconds / _KEPT))
    came_s: float | None = None
    first: tuple[int, float] | None = None
    last = (0, 0.0)
    began_s = clock.now_s()
    received, differ = 0, False
    while first is None or clock.now_s() - first[1] < seconds:
        if first is None and clock.now_s() - began_s > _SILENT_S:
            break
        try:
            frame = source.receive(0.1)
        except EndOfStream:
            break
        if frame is None:
            continue
        now_s = clock.now_s()
        came_s = now_s if came_s is None else came_s
        last = (frame.index, now_s)
        if first is None and now_s - came_s >= _SETTLE_S:
            first = last
        if frames and not differ:
            differ = bool((frame.image[::8, ::8] != frames[0].image[::8, ::8]).any())
        if received % every == 0:
            frames.append(frame)
        received += 1
    span_s = 0.0 if first is None else last[1] - first[1]
    fps = None if first is None or span_s <= 0.0 else (last[0] - first[0]) / span_s
    exposure = source.exposure if isinstance(source, CameraSource) else None
    return Watched(kind, info, fps, tuple(frames[: 2 * _KEPT]), not differ, exposure)


def camera_findings(seen: Watched, bay: Bay) -> list[Finding]:
    """Hold what was seen against what the bay asks for."""
    if not seen.frames or (seen.fps is None and seen.kind == "camera"):
        return [device_fault("camera", f"{seen.info.name} opens, but gives no pictures",
                             "check its cable; close other programs that use it")]  # fmt: skip
    if seen.fps is None:
        rate = Finding("camera", f"{seen.info.name}: too short to tell its rate", "unchecked")
    else:
        rate = _rate(seen, bay, seen.fps)
    found = [rate, _size(seen, bay), *_exposure(seen, bay)]
    found += _light(picture_quality([frame.image for frame in seen.frames]), seen)
    return found


def _rate(seen: Watched, bay: Bay, fps: float) -> Finding:
    live = seen.kind == "camera"
    asked = bay.fps if live else seen.info.fps
    found = f"{seen.info.name}: {fps:.1f} pictures a second of {asked:g}"
    if live and seen.same:
        return device_fault("camera", f"{found}, all the same", "unplug it and plug it in again; "
                            "the picture stands still")  # fmt: skip
    held = seen.exposure is not None and seen.exposure.held
    if live and is_halved(fps, asked) and not held:
        return Finding(
            "camera", f"{found}: half", "look",
            "automatic exposure takes twice as long: hold it short, by `station setup --step "
            "light` or exposure_ms = 4 in [camera]; more light",
        )  # fmt: skip
    if not is_enough(fps, asked):
        return Finding(
            "camera", found, "look",
            "more light (in the dark a camera takes its time), a USB 3 plug of its own, or a lower "
            "fps in [camera]" if live else "close other programs: this machine reads it too slowly",
        )  # fmt: skip
    if live and asked < LEAST_FPS:
        return Finding("camera", found, "look", "landings are judged more surely from 50 a second")
    return Finding("camera", found)


def _exposure(seen: Watched, bay: Bay) -> list[Finding]:
    """Hold what a camera says of its exposure against what keeps a moving leg sharp."""
    what, exposure = "exposure", seen.exposure
    if exposure is None:
        return []
    if exposure.refused:
        return [Finding(what, f"asked for {1000.0 * (bay.exposure_s or 0.0):g} ms, but the camera "
                        "does not hold it", "look", "plenty of light makes it short by itself; or "
                        "another camera")]  # fmt: skip
    told = "not told" if exposure.seconds is None else f"{1000.0 * exposure.seconds:.1f} ms"
    if not exposure.held:
        return [Finding(what, f"automatic, now {told}", "look", "hold it at 1/250 s or shorter: "
                        "`station setup --step light`")]  # fmt: skip
    if exposure.seconds is not None and exposure.seconds > 1.05 * LONGEST_S:
        return [Finding(what, f"held at {told}: a moving leg is smeared", "look",
                        "exposure_ms = 4 or less in [camera], and more light")]  # fmt: skip
    return [Finding(what, f"held at {told}")]


def _size(seen: Watched, bay: Bay) -> Finding:
    width, height = seen.info.width, seen.info.height
    found = f"{width} x {height}"
    if seen.kind == "camera" and (width, height) != (bay.width, bay.height):
        return Finding(
            "picture's size", f"{found}, asked for {bay.width} x {bay.height}", "look",
            "the camera knows no such size: set width and height in [camera] to one that it has",
        )  # fmt: skip
    return Finding("picture's size", found)


def _light(quality: PictureQuality, seen: Watched) -> list[Finding]:
    told = f"{100.0 * quality.brightness:.0f} % bright, {100.0 * quality.white:.0f} % wholly white"
    if quality.brightness < BLACK:
        light = Finding("light", f"{told}: black", "look", "take the lens's cover off; light")
    elif quality.brightness < DARK:
        light = Finding("light", f"{told}: dark", "look", "more light on runner and belt")
    elif quality.brightness > BRIGHT or quality.white > WHITE_SHARE:
        light = Finding("light", f"{told}: too bright", "look",
                        "no window or lamp behind the runner; a shorter exposure")  # fmt: skip
    else:
        light = Finding("light", told)
    if quality.edge_px is None:
        return [light, Finding("sharpness", "nothing with an edge is in view", "unchecked")]
    found = f"edges {quality.edge_px:.1f} px wide"
    if quality.edge_px > BLURRED * seen.info.width:
        return [light, Finding("sharpness", f"{found}: blurred", "look",
                               "focus on the middle of the belt; clean the lens")]  # fmt: skip
    return [light, Finding("sharpness", found)]
