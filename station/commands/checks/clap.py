"""Checks the clocks of camera and microphone against each other, by somebody's claps."""

from __future__ import annotations

from station.clock import Clock
from station.commands.checks.finding import Finding, Tell
from station.errors import DeviceTrouble
from station.live.clap import LISTEN_S, ClapNotFound, measure_clap
from station.live.feed import Feed
from station.sound.round_trip import Microphone
from station.values import Bay

_WHAT = "clap"
_OFF_S = 0.015
"""Half a picture at 60 a second and the clap's own error: less is as well as it can be told."""
WITHOUT = (
    "without a microphone pictures are taken to be timed right: a step's offset from the beat is "
    "then off by as much as the camera is late, mostly 10 to 50 ms (from memory)"
)


def clap_findings(
    feed: Feed,
    microphone: Microphone,
    clock: Clock,
    bay: Bay,
    tell: Tell,
    seconds: float = LISTEN_S,
) -> list[Finding]:
    """Ask for claps and hold what is found against the bay profile.

    Args:
        feed: Started on `clock`; its pictures' times are as the camera gives them.
        microphone: Not started.
        clock: Of both.
        bay: Says what the pictures' times are corrected by.
        tell: Says what to do.
        seconds: How long is listened.
    """
    tell(f"clap: clap five times within {seconds:g} s, arms wide, where the runner runs")
    try:
        found = measure_clap(feed, microphone, clock, seconds)
    except ClapNotFound as trouble:
        return [Finding(_WHAT, str(trouble), "look", "clap again, or leave it")]
    except DeviceTrouble as trouble:
        return [Finding(_WHAT, f"{trouble}; {WITHOUT}", "unchecked")]
    told = (
        f"pictures {1000.0 * found.late_s:+.0f} ms late against the sound, within "
        f"{1000.0 * found.spread_s:.0f} ms ({found.claps} claps)"
    )
    off_s = found.late_s - bay.picture_late_s
    if abs(off_s) > _OFF_S:
        line = f"picture_late_ms = {1000.0 * found.late_s:.0f}"
        return [Finding(_WHAT, told, "look", f"{line} in [camera] of the bay profile")]
    return [Finding(_WHAT, told)]
