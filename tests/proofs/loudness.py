"""Prove that the loudest mix of beat and cues neither clips nor is bent, and measure its loudness.

The speaker plays at full volume, beat and cues over each other at every phase; the sound server's
monitor is recorded. First the cue about a foot (its copies and the ticks are then taken out of the
recording: what is left would be clipping or a limiter), then every other cue there is.

    python tests/proofs/loudness.py [--seconds 30]

Prints one JSON line; exits 1 where a bound does not hold, 3 where something needed is missing.
"""

from __future__ import annotations

# First of all: it keeps numpy to one thread, as in `station run`.
import station  # noqa: F401

# isort: split

import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import get_args

import numpy as np
from kit.beats import ahead_tone, beat_tones
from kit.extra import independent
from kit.running import options, served, tell
from kit.tape import read_tape, taping
from kit.tones_found import CUE_BAND, RATE_HZ, find, find_beats, left_over, sides
from numpy.typing import NDArray
from pulse import PulseServer
from scipy.signal import resample_poly

from station.clock import WallClock
from station.sound.speaker_portaudio import PortAudioSpeaker
from station.values import Cue, CueKind

FULL = 32767.0 / 32768.0
"""Where a 16 bit output clips."""
MOST_LEFT = 0.002
RATE_SPM = 180.0
CUE_EVERY_S = 0.613
"""The least gap, and no multiple of the beat: the cue wanders over every phase of the beat."""


def results() -> Iterator[dict[str, object]]:
    """Run the proof."""
    asked = options("Peak and loudness of beat and cues together.", seconds=30.0)
    independent("pyloudnorm")
    with served() as server:
        yield prove(server, asked.seconds)


def prove(server: PulseServer, seconds: float) -> dict[str, object]:
    """Play, record and measure."""
    running = recorded(server, seconds, ("ahead",))
    every = recorded(server, seconds, get_args(CueKind))
    beats, cue = find_beats(running[:, 0], beat_tones()), ahead_tone()
    cues = find(running.mean(axis=1), cue, CUE_BAND)
    side = np.array(sides(running, cues.at, cue.size))
    over = [int(np.abs(cues.at + cue.size // 2 - at).min()) < cue.size // 2 for at in beats.at]
    left = 0.0
    for ear in (0, 1):
        tones = [(t, beats.at[beats.tone == i]) for i, t in enumerate(beat_tones())]
        tones += [(cue, cues.at[side == s]) for s in ("left", "right")]
        left = max(left, float(np.abs(left_over(running[:, ear], tones)).max()))
    clipped = [int((np.abs(part) >= FULL).sum()) for part in (running, every)]
    peak = max(float(np.abs(part).max()) for part in (running, every))
    true_peak = max(float(np.abs(resample_poly(p, 4, 1, axis=0)).max()) for p in (running, every))
    meter = independent("pyloudnorm").Meter(RATE_HZ)
    return {
        "proof": "loudness",
        "holds": bool(
            not any(clipped) and true_peak < 1.0 and left <= MOST_LEFT and sum(over) >= 10
        ),
        "volume": 1.0,
        "seconds": seconds,
        "beats": int(beats.at.size),
        "cues": int(cues.at.size),
        "beats_under_a_cue": sum(over),
        "clipped_samples": clipped,
        "peak": round(peak, 4),
        "true_peak_dbtp": round(20.0 * float(np.log10(true_peak)), 2),
        "most_left": round(left, 6),
        "beat_and_cue_lufs": round(float(meter.integrated_loudness(trimmed(running))), 2),
        "all_cues_lufs": round(float(meter.integrated_loudness(trimmed(every))), 2),
    }


def trimmed(sound: NDArray[np.float32]) -> NDArray[np.float64]:
    """Return the recording from its first sound to its last."""
    heard = np.flatnonzero(np.abs(sound).max(axis=1) > 0.01)
    return sound[heard[0] : heard[-1] + 1].astype(float)


def recorded(
    server: PulseServer, seconds: float, kinds: tuple[CueKind, ...]
) -> NDArray[np.float32]:
    """Play beat and cues for a while at full volume; return the recording."""
    clock = WallClock()
    with tempfile.TemporaryDirectory() as name:
        with taping(server.env, Path(name), markers=False):
            speaker = PortAudioSpeaker(volume=1.0)
            speaker.start(clock)
            try:
                speaker.set_beat(RATE_SPM)
                begin_s = clock.now_s()
                for number in range(int(seconds / CUE_EVERY_S)):
                    clock.wait_until(begin_s + (number + 1) * CUE_EVERY_S, 10.0)
                    kind = kinds[number % len(kinds)]
                    side = ("left", "right")[number % 2] if kind == "ahead" else None
                    speaker.cue(Cue(kind, clock.now_s(), side))  # type: ignore[arg-type]
                    speaker.heard()
                time.sleep(1.2)
            finally:
                speaker.stop()
            time.sleep(0.3)
        return read_tape(Path(name)).sound


if __name__ == "__main__":
    sys.exit(tell("loudness", results()))
