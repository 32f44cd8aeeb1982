"""Prove that the beat leaves the sound device evenly: play, record the output, measure.

Starts a private sound server, plays the beat through the chosen speaker for a while (with a cue
now and then, as in a session), records what the server's output carries, and finds every tick in
the recording. Nothing but the recorded samples is judged: every beat within 1 sample of k x period
after one constant offset per tone is removed, none lost or double, the mean interval exact to 1e-5.
Prints one JSON line; exit 0 when the beat is even, 1 when not, 3 when the machine lacks what the
proof needs.

    python tests/proofs/beat_interval.py [--speaker portaudio|mixer] [--seconds 30] [--rate 180]
"""

from __future__ import annotations

# First of all: it keeps numpy to one thread, as in `station run`.
import station  # noqa: F401

# isort: split

import sys
import time
from collections.abc import Iterator

import numpy as np
from kit.beats import beat_tones
from kit.running import options, served, tell
from kit.tones_found import evenness, find_beats
from pulse import PulseServer, read_recording, recording

from station.clock import WallClock
from station.ports import Speaker
from station.sound.speaker_mixer import PygameSpeaker
from station.sound.speaker_portaudio import PortAudioSpeaker
from station.sound.tones import SAMPLE_RATE_HZ
from station.values import Cue, Heard

CUE_EVERY_S = 5.0


def results() -> Iterator[dict[str, object]]:
    """Run the proof."""
    asked = options(
        "The beat through one speaker, from the recording.",
        speaker=("portaudio", "mixer"), seconds=30.0, rate=180.0, cues=False,
    )  # fmt: skip
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
    beats = find_beats(sound[:, 0], beat_tones())
    even = evenness(beats, rate_spm)
    gaps_ms = np.diff(beats.at) * 1000.0 / SAMPLE_RATE_HZ
    expected_ms = 60_000.0 / rate_spm
    told_ms = np.diff([event.t_s for event in heard if event.kind == "beat"]) * 1000.0
    counts = speaker.counts()  # type: ignore[attr-defined]
    enough = even.beats >= int(seconds * rate_spm / 60.0) - 1
    return {
        "proof": "beat_interval",
        "holds": bool(even.holds and enough),
        "speaker": speaker.name,
        "rate_spm": rate_spm,
        "seconds": seconds,
        "beats_found": even.beats,
        "lost": even.lost,
        "double": even.double,
        "worst_samples": round(even.worst_samples, 3),
        "shifts_s_samples": even.shifts[:10],
        "mean_interval_error": even.mean_interval_error,
        "beats_told": len(told_ms) + 1 if told_ms.size else 0,
        "expected_ms": round(expected_ms, 4),
        "mean_ms": round(float(gaps_ms.mean()), 4) if gaps_ms.size else None,
        "min_ms": round(float(gaps_ms.min()), 4) if gaps_ms.size else None,
        "max_ms": round(float(gaps_ms.max()), 4) if gaps_ms.size else None,
        "least_likeness": round(float(beats.likeness.min(initial=1.0)), 4),
        "told_worst_off_ms": round(float(np.abs(told_ms - expected_ms).max()), 3)
        if told_ms.size
        else None,
        "peak": round(float(np.abs(sound).max()), 3) if sound.size else None,
        "under_runs": counts.underflows,
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
