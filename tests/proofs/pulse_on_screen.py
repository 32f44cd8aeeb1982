"""Prove that the pulse on the screen comes with the beat that is heard.

A whole session runs in a real window on a virtual screen and plays through a sound server. One
process watches the window's pixels (when does the pulse become a full disc?), another records the
server's monitor; both note the monotonic clock. Nothing that the station says of its own timing is
used. A pulse that comes before the beat is negative.

    python tests/proofs/pulse_on_screen.py [--seconds 60] [--fps 60] [--rate 180]

Prints one JSON line; exits 1 where fewer than 95 % of the beats have their pulse from -20 to
+20 ms, 3 where something needed is missing.
"""

from __future__ import annotations

# First of all: it keeps numpy to one thread, as in `station run`.
import station  # noqa: F401

# isort: split

import math
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from kit.beats import beat_tones
from kit.pictures import PacedPictures, Pictures
from kit.running import options, served, shown, tell
from kit.screen import HEIGHT, WIDTH, VirtualScreen
from kit.session import run_session
from kit.tape import marker_tone, read_tape, taping
from kit.tones_found import MARKER_BAND, find, find_beats
from kit.watch import read_watched, watching
from pulse import PulseServer

from station.show.layout import Layout
from station.show.palette import BEAT
from station.show.rhythm import pulse_place
from station.simulate.parameters import GaitParameters

WITHIN_MS = 20.0
SHARE = 0.95
FULL = 0.85
"""Share of the disc's pixels from which it is full: the closing ring never has as many."""
RADIUS_PX = 44
BEGIN_S = 2.0
"""After the first beat: the window has come up by then."""


def results() -> Iterator[dict[str, object]]:
    """Run the proof."""
    asked = options(
        "The pulse on the screen against the beat heard.", seconds=60.0, fps=60.0, rate=180.0
    )
    with served() as server, shown() as screen:
        assert screen is not None
        yield prove(server, screen, asked.seconds, asked.fps, asked.rate)


def prove(
    server: PulseServer, screen: VirtualScreen, seconds: float, fps: float, rate_spm: float
) -> dict[str, object]:
    """Run, watch, record and judge."""
    pictures = Pictures(GaitParameters(rate_spm=172.0, shank_deg=9.0), fps, 10.0)
    source = PacedPictures(pictures, seconds + 5.0)
    layout = Layout(WIDTH, HEIGHT)
    radius = layout.px(RADIUS_PX)
    # The painter's own place; the watcher needs to know where to look, the rest are pixels.
    x, y = pulse_place(layout)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        seen = folder / "seen.raw"
        with (
            watching(screen.memory, seen, x - radius, y - radius, 2 * radius, BEAT),
            taping(server.env, folder / "tape"),
        ):
            done = run_session(source, folder, rate_spm, seconds, window=True)
        tape, watched = read_tape(folder / "tape"), read_watched(seen)
    lit_s, look_s = watched.lit(FULL * math.pi * radius**2)
    markers = find(tape.sound[:, 0], marker_tone(), MARKER_BAND)
    beat_s = tape.times_s(find_beats(tape.sound[:, 0], beat_tones()).at)
    beat_s = beat_s[beat_s >= beat_s[:1] + BEGIN_S][:-1] if beat_s.size else beat_s
    half_s = 30.0 / rate_spm
    off_ms = []
    for t_s in beat_s:
        near = lit_s[np.abs(lit_s - t_s) <= half_s]
        if near.size:
            off_ms.append(1000.0 * float(near[np.abs(near - t_s).argmin()] - t_s))
    off = np.array(off_ms)
    share = float((np.abs(off) <= WITHIN_MS).sum() / max(beat_s.size, 1))
    frames = done.frames
    spread = np.percentile(off, (2.5, 50, 97.5)) if off.size else np.full(3, np.nan)
    return {
        "proof": "pulse_on_screen",
        "holds": share >= SHARE and beat_s.size >= 0.8 * (seconds - BEGIN_S) * rate_spm / 60.0,
        "rate_spm": rate_spm,
        "seconds": seconds,
        "beats": int(beat_s.size),
        "pulses": int(lit_s.size),
        "beats_without_a_pulse": int(beat_s.size - off.size),
        "share_within_20_ms": round(share, 4),
        "offset_ms_2.5_50_97.5": [round(float(v), 1) for v in spread],
        "earliest_latest_ms": [round(float(off.min()), 1), round(float(off.max()), 1)]
        if off.size
        else None,
        "beat_known_to_ms": round(500.0 * tape.block_s(), 2),
        "markers_due_before_given": tape.too_early(markers.at),
        "looked_every_ms": round(1000.0 * float(np.percentile(look_s, 95)), 2)
        if look_s.size
        else None,
        "camera_fps": fps,
        "worked_fps": round((frames["captured"] - frames["dropped"]) / seconds, 1),
        "sound": done.session["sound"],
    }


if __name__ == "__main__":
    sys.exit(tell("pulse_on_screen", results()))
