"""Prove a live film's sound: `sound.wav` against the recorded loudspeaker, and against the pixels.

    python tests/proofs/film_sound.py [--seconds 30] [--rate 180]

`station run --video` plays live into a private sound server whose monitor is recorded. Ticks are
found by loudness in both, the pulse by colour in the film. Prints one JSON line. Needs
PulseAudio's tools; runs the pose model, painter and encoder beside the sound.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from kit.running import options, served, tell
from kit.session import plan_text
from numpy.typing import NDArray
from pulse import read_recording, recording
from scipy.io import wavfile

FS = 48_000
MOST_APART = 240
"""Samples (5 ms) that nine ticks of ten may lie off their place in the file."""
QUIET = 2e-4
"""Below it is silence: a step of 16 bits is 3e-5."""


def ticks(sound: NDArray[Any]) -> NDArray[np.int64]:
    """Find where at least 5 ms of silence end, in samples; (n, 2) float."""
    loud = np.flatnonzero(np.abs(sound).max(axis=1) > QUIET)
    return loud[np.diff(loud, prepend=-FS) > 0.005 * FS]


def pulses_s(film: Path) -> tuple[NDArray[np.float64], int, float]:
    """Find when the largest yellow thing in the picture becomes full; also pictures and rate."""
    video = cv2.VideoCapture(str(film))
    fps = video.get(cv2.CAP_PROP_FPS)
    areas = []
    while True:
        read, image = video.read()
        if not read:
            break
        b, g, r = (image[..., i] for i in range(3))
        yellow = ((r > 180) & (g > 170) & (b < 130)).astype(np.uint8)
        stats = cv2.connectedComponentsWithStats(yellow)[2]
        areas.append(int(stats[1:, cv2.CC_STAT_AREA].max(initial=0)))
    video.release()
    full = np.array(areas) > 0.5 * (min(areas) + max(areas))
    return np.flatnonzero(full & ~np.concatenate([[False], full[:-1]])) / fps, len(areas), fps


def same_sound(played: NDArray[Any], written: NDArray[Any]) -> float | None:
    """Return the greatest difference about any tick that both hold, as a share of the peak."""
    peak, most = float(np.abs(written).max()), 0.0
    heard, noted = ticks(played), ticks(written)
    if not len(heard) or len(heard) < len(noted):
        return None
    lead = best_lead(heard, noted)
    for there, here in zip(heard[lead:], noted, strict=False):
        a, b = played[there - 24 : there + 1920], written[here - 24 : here + 1920]
        if len(a) == len(b):
            most = max(most, float(np.abs(a - b).max()))
    return most / peak


def best_lead(heard: NDArray[np.int64], noted: NDArray[np.int64]) -> int:
    """Return which heard tick is the first noted one: the pairing whose offset varies least."""
    leads = range(len(heard) - len(noted) + 1)
    return min(leads, key=lambda lead: np.ptp(heard[lead : lead + len(noted)] - noted))


def results() -> Iterator[dict[str, Any]]:
    """Run the session and judge what it left."""
    args = options("A live film's sound.", seconds=30.0, rate=180.0)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        plan, out = folder / "plan.toml", folder / "session"
        plan.write_text(plan_text(args.rate, args.seconds + 5.0), encoding="utf-8")
        command = [sys.executable, "-c", "from station.commands.main import main; main()"]
        command += ["run", "--source", "demo", "--headless", "--video", "--plan", str(plan)]
        command += ["--out", str(out), "--seconds", str(args.seconds)]
        with served() as server, recording(server, folder / "sound.raw"):
            subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
        played = read_recording(folder / "sound.raw")
        written = wavfile.read(out / "sound.wav")[1] / 32767.0
        session = json.loads((out / "session.json").read_text(encoding="utf-8"))
        shown_s, pictures, fps = pulses_s(out / "screen.mp4")
    heard, noted = ticks(played), ticks(written)
    told: dict[str, Any] = {"proof": "film_sound", "sound": session["sound"], "fps": fps}
    told |= {"ticks_played": len(heard), "ticks_written": len(noted)}
    if len(heard) >= len(noted) > 0:
        lead = best_lead(heard, noted)
        apart = heard[lead : lead + len(noted)] - noted
        apart = apart - np.median(apart)
        spread = np.percentile(apart, [0, 5, 95, 100]).astype(int).tolist()
        told["written_against_played_samples"] = dict(
            zip(("least", "p5", "p95", "most"), spread, strict=True)
        )
        told["same_sound_difference"] = round(same_sound(played, written) or 0.0, 6)
    if len(noted) and len(shown_s):
        after_ms = [float(1000.0 * np.min(np.abs(shown_s - t))) for t in noted / FS]
        signed_ms = [
            float(1000.0 * (shown_s[np.argmin(np.abs(shown_s - t))] - t)) for t in noted / FS
        ]
        told["pulses"] = len(shown_s)
        told["pulse_after_tick_ms"] = {
            "p5": round(float(np.percentile(signed_ms, 5)), 1),
            "median": round(float(np.median(signed_ms)), 1),
            "p95": round(float(np.percentile(signed_ms, 95)), 1),
        }
        told["pulse_within_one_picture"] = round(float(np.mean(np.array(after_ms) <= 1e3 / fps)), 3)
    told["film_s"] = pictures / fps
    told["sound_s"] = len(written) / FS
    told |= {"film": session["film"], "frames": session["frames"], "notices": session["notices"]}
    placed = told.get("written_against_played_samples")
    told["holds"] = bool(
        len(noted) >= 0.8 * args.seconds * args.rate / 60.0
        and placed is not None
        and max(-placed["p5"], placed["p95"]) <= MOST_APART
        and abs(told["film_s"] - told["sound_s"]) <= 1.0 / fps
    )
    yield told


if __name__ == "__main__":
    sys.exit(tell("film_sound", results()))
