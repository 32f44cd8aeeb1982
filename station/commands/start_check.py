"""What `station bay` looks at by itself when it starts: nothing sounds, nobody has to be there.

A bay starts whatever is found: what is lost may come back. Staff are told, on the screen for some
seconds and in the log, and `station check` says more.
"""

from __future__ import annotations

from collections.abc import Callable

from station.clock import Clock
from station.coach.choice import Choice
from station.coach.visit.page import Page
from station.commands.checks.camera import Watched, camera_findings
from station.commands.checks.finding import Finding
from station.commands.checks.place import disk_findings
from station.commands.checks.view import profile_findings
from station.live import Feed
from station.live.bay.ports import BayScreen
from station.live.stopping import StopWish
from station.ports import EndOfStream, FrameSource, SourceInfo
from station.see.camera import CameraSource
from station.values import Bay, Frame

WATCH_S = 1.5
SHOWN_S = 10.0
_KEPT = 16
_EVERY = 4
_WAIT_S = 0.05
_AREAS: dict[str, str] = {
    "camera": "start_camera", "picture's size": "start_camera", "exposure": "start_light",
    "light": "start_light", "sharpness": "start_light", "view": "start_view",
    "level": "start_view", "disk, records": "start_disk", "disk, sessions": "start_disk",
    "sound": "start_sound",
}  # fmt: skip
"""The words that stand for a finding on the screen."""


def start_findings(
    bay: Bay,
    kind: str,
    info: SourceInfo,
    feed: Feed,
    source: FrameSource,
    clock: Clock,
    sound_notice: str | None,
) -> list[Finding]:
    """Look at what a start can look at, by the pictures that come anyway.

    Args:
        bay: The profile.
        kind: `camera`, `clip` or `demo`.
        info: Of the source.
        feed: Started; its first second and a half of pictures is taken from it.
        source: The feed's own, asked for its exposure.
        clock: Ends the watching.
        sound_notice: What the speaker said when it was opened; None: nothing.

    Returns:
        All that was found, well or not.
    """
    watched = _watch(kind, info, feed, source, clock)
    found = camera_findings(watched, bay) + profile_findings(bay, info) + disk_findings(bay)
    if sound_notice is not None:
        found.append(Finding("sound", sound_notice, "look", "station check"))
    return found


def _watch(kind: str, info: SourceInfo, feed: Feed, source: FrameSource, clock: Clock) -> Watched:
    first: Frame | None = None
    last: Frame | None = None
    kept: list[Frame] = []
    count, differ = 0, False
    end_s = clock.now_s() + WATCH_S
    while clock.now_s() < end_s:
        try:
            seen = feed.next(_WAIT_S)
        except EndOfStream:
            break
        frame = None if seen is None else seen.frame
        if frame is None:
            continue
        first = first or frame
        if last is not None and not differ:
            differ = bool((frame.image[::8, ::8] != last.image[::8, ::8]).any())
        if count % _EVERY == 0 and len(kept) < _KEPT:
            kept.append(frame)
        last, count = frame, count + 1
    fps = None
    if first is not None and last is not None and last.t_s - first.t_s > 0.5 * WATCH_S:
        fps = (last.index - first.index) / (last.t_s - first.t_s)
    exposure = source.exposure if isinstance(source, CameraSource) else None
    return Watched(kind, info, fps, tuple(kept), not differ, exposure)


def amiss(findings: list[Finding]) -> list[Finding]:
    """Return those that somebody should look at."""
    return [finding for finding in findings if finding.verdict in ("look", "fault")]


def tell_start(
    findings: list[Finding],
    screen: BayScreen,
    clock: Clock,
    stop: StopWish,
    say: Callable[[str], None],
    log: Callable[..., None],
) -> None:
    """Tell what is amiss: a line each, in the log, and on the screen until it is touched.

    Args:
        findings: All that was found.
        screen: Where staff see it.
        clock: Ends the showing.
        stop: Ends it, too.
        say: Takes the lines.
        log: Takes level, key and fields.
    """
    wrong = amiss(findings)
    for finding in wrong:
        say(f"{finding.what}: {finding.found} - {finding.remedy}")
        level = "error" if finding.verdict == "fault" else "warning"
        log(level, "start_check", of=finding.what, found=finding.found)
    log("info", "start_checked", amiss=len(wrong))
    if not wrong:
        return
    lines = tuple(dict.fromkeys(_AREAS.get(f.what, "start_other") for f in wrong))
    end_s = clock.now_s() + SHOWN_S
    while (left_s := end_s - clock.now_s()) > 0.0 and stop.reason is None:
        page = Page(
            "start_look", ("start_how", *lines), (Choice("begin", "go_on", "Enter"),),
            tone="warning", seconds_left=int(left_s) + 1,
        )  # fmt: skip
        screen.show_page(page, None)
        for given in screen.inputs():
            if given.leave:
                stop.wish("window closed")
            if given.choice == "begin" or given.face in ("Enter", "Space"):
                return
        clock.wait_until(clock.now_s() + _WAIT_S, _WAIT_S)
