"""Looks and listens at once while somebody claps, and says how far apart the two clocks are."""

from __future__ import annotations

from collections.abc import Callable

from station.clock import Clock
from station.errors import DeviceTrouble, Worded
from station.live.feed import Feed
from station.measure.clap import ClapAlignment, align, claps_seen, sounds_heard
from station.ports import EndOfStream
from station.sound.round_trip import Microphone, Recording
from station.sound.tones import SAMPLE_RATE_HZ
from station.values import Pose

LISTEN_S = 8.0
"""Time for five claps, and to get ready."""
MOST_SPREAD_S = 0.025
"""Claps that disagree by more say nothing: it was not the hands that were heard."""
LATE_RANGE_S = (-0.1, 0.3)
"""What a bay profile takes."""


class ClapNotFound(DeviceTrouble):
    """No clap was both seen and heard; the text says which was missing and what to do."""


def measure_clap(
    feed: Feed,
    microphone: Microphone,
    clock: Clock,
    seconds: float = LISTEN_S,
    distance_m: float = 0.0,
    each: Callable[[Pose], None] = lambda _: None,
) -> ClapAlignment:
    """Look and listen for so long, and align the claps.

    Args:
        feed: Started on `clock`, with its pictures' times as they come (`picture_late_s` 0).
        microphone: Not started.
        clock: Both keep time by it; moves by itself.
        seconds: How long.
        distance_m: From the hands to the microphone.
        each: Told of each pose, to be shown meanwhile.

    Raises:
        ClapNotFound: Nothing was seen, nothing heard, or the two do not belong together.
        DeviceTrouble: The microphone cannot be opened, or the camera is lost.
    """
    poses: list[Pose] = []
    microphone.start(clock)
    try:
        end_s = clock.now_s() + seconds
        while clock.now_s() < end_s:
            seen = feed.next(0.02)
            if seen is not None:
                poses.append(seen.pose)
                each(seen.pose)
    except EndOfStream:
        pass
    finally:
        recording = microphone.stop()
    return judge(claps_seen(poses), sounds_of(recording), distance_m)


def sounds_of(recording: Recording) -> tuple[float, ...]:
    """Return when sudden sounds came in a recording, seconds on its clock, rising."""
    found = sounds_heard(recording.samples, SAMPLE_RATE_HZ)
    return tuple(recording.at(round(at_s * SAMPLE_RATE_HZ)) for at_s in found)


def judge(
    seen_s: tuple[float, ...], heard_s: tuple[float, ...], distance_m: float
) -> ClapAlignment:
    """Hold what was seen against what was heard.

    Args:
        seen_s: When hands closed, by the pictures' times.
        heard_s: When sudden sounds came, on the same clock.
        distance_m: From the hands to the microphone.

    Raises:
        ClapNotFound: Nothing was seen, nothing heard, or the two do not belong together.
    """
    if not seen_s:
        raise ClapNotFound(
            Worded(
                "no clap was seen; stand where the runner runs, turn so that the camera sees both "
                "hands, hold them wide apart, and clap with straight arms",
                "clap_unseen",
            )
        )
    if not heard_s:
        raise ClapNotFound(
            Worded(
                f"{len(seen_s)} claps were seen, none was heard; is the microphone the right one, "
                "and turned up? Clap louder",
                "clap_unheard",
                seen=str(len(seen_s)),
            )
        )
    found = align(seen_s, heard_s, distance_m)
    if found is None or found.spread_s > MOST_SPREAD_S:
        raise ClapNotFound(
            Worded(
                f"{len(seen_s)} claps seen and {len(heard_s)} sounds heard do not belong together; "
                "clap again, five times, in a quiet room",
                "clap_apart",
                seen=str(len(seen_s)),
                heard=str(len(heard_s)),
            )
        )
    low_s, high_s = LATE_RANGE_S
    if not low_s <= found.late_s <= high_s:
        raise ClapNotFound(
            Worded(
                f"the pictures seem {1000.0 * found.late_s:.0f} ms later than the sound; allowed: "
                f"{1000.0 * low_s:.0f} to {1000.0 * high_s:.0f} ms; clap again",
                "clap_too_late",
                ms=f"{1000.0 * found.late_s:.0f}",
                low=f"{1000.0 * low_s:.0f}",
                high=f"{1000.0 * high_s:.0f}",
            )
        )
    return found
