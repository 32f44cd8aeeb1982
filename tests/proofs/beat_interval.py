"""Prove that the beat leaves the sound device evenly: play, record the output, measure.

Starts a private sound server, plays the beat through the chosen speaker for a while (with a cue
now and then, as in a session), records what the server's output carries, and finds every tick in
the recording. Prints one JSON line; exit 0 when the beat is even, 1 when not, 3 when the machine
lacks what the proof needs.

    python tests/proofs/beat_interval.py [--speaker portaudio|mixer] [--seconds 30] [--rate 180]
"""

from __future__ import annotations

# First of all: it keeps numpy to one thread, as in `station run`.
import station  # noqa: F401

# isort: split

import argparse
import sys
import time
from collections.abc import Iterator

import numpy as np
from kit.running import served, tell
from pulse import PulseServer, find_onsets, read_recording, recording

from station.clock import WallClock
from station.ports import Speaker
from station.sound.speaker_mixer import PygameSpeaker
from station.sound.speaker_portaudio import PortAudioSpeaker
from station.sound.tones import SAMPLE_RATE_HZ, beat_tone
from station.values import Cue, Heard

TOLERANCE_MS = 0.1
CUE_EVERY_S = 5.0


def results() -> Iterator[dict[str, object]]:
    """Run the proof."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--speaker", choices=("portaudio", "mixer"), default="portaudio")
    parser.add_argument("--seconds", type=float, default=30.0)
    parser.add_argument("--rate", type=float, default=180.0, help="steps per minute")
    parser.add_argument("--cues", action="store_true", help="sound a cue every 5 s on top")
    asked = parser.parse_args()
    with served() as server:
        yield prove(server, asked.speaker, asked.seconds, asked.rate, asked.cues)


def prove(
    server: PulseServer, kind: str, seconds: float, rate_spm: float, cues: bool
) -> dict[str, object]:
    """Play, record and measure; return what was found."""
    speaker: Speaker = (
        PygameSpeaker(volume=1.0) if kind == "mixer" else PortAudioSpeaker(volume=1.0)
    )
    path = server.folder / "monitor.raw"
    with recording(server, path):
        heard = play(speaker, seconds, rate_spm, cues)
        time.sleep(0.5)
    sound = read_recording(path)
    onsets, likeness = find_onsets(sound[:, 0], beat_tone(SAMPLE_RATE_HZ))
    gaps_ms = np.diff(onsets) * 1000.0 / SAMPLE_RATE_HZ
    expected_ms = 60_000.0 / rate_spm
    told_ms = np.diff([event.t_s for event in heard if event.kind == "beat"]) * 1000.0
    counts = speaker.counts()  # type: ignore[attr-defined]
    off_ms = float(np.abs(gaps_ms - expected_ms).max()) if gaps_ms.size else None
    enough = len(onsets) >= int(seconds * rate_spm / 60.0) - 1
    return {
        "proof": "beat_interval",
        "holds": bool(enough and off_ms is not None and off_ms <= TOLERANCE_MS),
        "speaker": speaker.name,
        "rate_spm": rate_spm,
        "seconds": seconds,
        "beats_found": len(onsets),
        "beats_told": len(told_ms) + 1 if told_ms.size else 0,
        "expected_ms": round(expected_ms, 4),
        "mean_ms": round(float(gaps_ms.mean()), 4) if gaps_ms.size else None,
        "min_ms": round(float(gaps_ms.min()), 4) if gaps_ms.size else None,
        "max_ms": round(float(gaps_ms.max()), 4) if gaps_ms.size else None,
        "worst_off_ms": None if off_ms is None else round(off_ms, 4),
        "least_likeness": round(float(likeness.min()), 4) if likeness.size else None,
        "told_worst_off_ms": round(float(np.abs(told_ms - expected_ms).max()), 3)
        if told_ms.size
        else None,
        "peak": round(float(np.abs(sound).max()), 3) if sound.size else None,
        "underflows": counts.underflows,
        "notice": speaker.notice,
    }


def play(speaker: Speaker, seconds: float, rate_spm: float, cues: bool) -> list[Heard]:
    """Keep the beat for a while; return what the speaker told."""
    clock = WallClock()
    heard: list[Heard] = []
    speaker.start(clock)
    try:
        speaker.set_beat(rate_spm)
        end_s = clock.now_s() + seconds
        next_cue_s = clock.now_s() + CUE_EVERY_S
        while (now_s := clock.now_s()) < end_s:
            if cues and now_s >= next_cue_s:
                speaker.cue(Cue("ahead", now_s, "left"))
                next_cue_s += CUE_EVERY_S
            heard += speaker.heard()
            time.sleep(1.0 / 60.0)
        heard += speaker.heard()
    finally:
        speaker.stop()
    return heard


if __name__ == "__main__":
    sys.exit(tell("beat_interval", results()))
