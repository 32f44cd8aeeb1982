"""Prove the measuring of the round trip: the station's ticks, recorded from the sink's monitor.

The monitor gives what the sink plays with no way through air, so a tick must arrive when the
station told, but for what the server adds on its way back, and always alike.

    python tests/proofs/round_trip.py [--speaker portaudio|mixer] [--ticks 8]

Prints one JSON line with the figures; exits 1 where a tick is not found or the figures scatter, 3
where the machine lacks what is needed.
"""

from __future__ import annotations

# First of all: it keeps numpy to one thread, as in `station run`.
import station  # noqa: F401

# isort: split

import sys
from collections.abc import Iterator

from kit.running import options, served, tell

from station.clock import WallClock
from station.sound.microphone import PortAudioMicrophone
from station.sound.round_trip import measure_round_trip
from station.sound.speaker_mixer import PygameSpeaker
from station.sound.speaker_portaudio import PortAudioSpeaker

MOST_TOLD_MS = 60.0
MOST_SPREAD_MS = 20.0


def results() -> Iterator[dict[str, object]]:
    """Run the proof."""
    asked = options(
        "From asking for a tick to its recording.", speaker=("portaudio", "mixer"), ticks=8.0
    )
    clock = WallClock()
    with served():
        speaker = PygameSpeaker() if asked.speaker == "mixer" else PortAudioSpeaker()
        speaker.start(clock)
        try:
            found = measure_round_trip(speaker, PortAudioMicrophone(), clock, int(asked.ticks))
        finally:
            speaker.stop()
    told_ms, spread_ms = 1000.0 * found.told_s, 1000.0 * found.spread_s
    holds = (
        found.found == found.ticks and abs(told_ms) <= MOST_TOLD_MS and spread_ms <= MOST_SPREAD_MS
    )
    yield {
        "proof": "round_trip",
        "holds": holds,
        "speaker": speaker.name,
        "ticks": found.ticks,
        "found": found.found,
        "asked_to_recorded_ms": round(1000.0 * found.asked_s, 2),
        "told_to_recorded_ms": round(told_ms, 2),
        "spread_ms": round(spread_ms, 2),
    }


if __name__ == "__main__":
    sys.exit(tell("round_trip", results()))
