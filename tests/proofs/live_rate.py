"""Prove how fast the station is live: pictures worked through, dropped, and how soon it begins.

In real time, with a window on a virtual screen and a private sound server: pictures of a simulated
runner come 60 times a second, and the station works through at least 0.9 of what the pose model
alone can (or of 60); then for minutes 30 times a second, of which fewer than 0.5 % are left out.
The first verdict comes within two strides of the runner's being in view. Then the station is
started as a program, on a clip, until its first picture stands on the screen.

    python tests/proofs/live_rate.py [--seconds 60] [--minutes 10] [--starts 5]

`--seconds`: at 60 pictures a second; `--minutes`: at 30. Prints one JSON line each; exits 1 where a
bound does not hold, 3 where something needed is missing. Nothing else should run meanwhile.
"""

from __future__ import annotations

# First of all: it keeps numpy to one thread, as in `station run`.
import station  # noqa: F401

# isort: split

import csv
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from statistics import median

from kit.pictures import PacedPictures, Pictures
from kit.running import options, served, shown, tell
from kit.screen import HEIGHT, WIDTH, VirtualScreen
from kit.session import run_session

from station.commands.bench_clip import draw_clip
from station.see.pose_model import MediapipePose
from station.simulate.parameters import GaitParameters
from station.values import Frame

RATE_SPM = 172.0
LEAST_SHARE = 0.9
MOST_DROPPED = 0.005
MOST_START_S = 3.0
FIRST_VERDICT_STRIDES = 2.0
BARE_PICTURES = 300
LIT, LIT_SHARE = 40, 0.3
"""A picture is there when so much of the screen's middle is brighter than this: it is black at
first."""
LONGEST_START_S = 60.0


def results() -> Iterator[dict[str, object]]:
    """Run the proof."""
    asked = options("Live rates.", seconds=60.0, minutes=10.0, starts=5.0)
    way = GaitParameters(rate_spm=RATE_SPM, shank_deg=9.0)
    with served(), shown() as screen:
        assert screen is not None
        if asked.seconds > 0.0:
            pictures = Pictures(way, 60.0, 10.0)
            yield at_60(pictures, asked.seconds)
        if asked.minutes > 0.0:
            pictures = Pictures(way, 30.0, 10.0)
            yield at_30(pictures, 60.0 * asked.minutes)
        if asked.starts >= 1.0:
            yield starts(screen, int(asked.starts))


def bare_rate(pictures: Pictures) -> float:
    """Return how many pictures a second the package's pose model finds poses in, on two threads."""
    model, taken_s = MediapipePose(2, whole=True), 0.0
    for index in range(BARE_PICTURES):
        frame = Frame(index / pictures.fps, index, pictures.picture(index))
        begun_s = time.perf_counter()
        model.find(frame)
        taken_s += time.perf_counter() - begun_s
    model.close()
    return BARE_PICTURES / taken_s


def live(pictures: Pictures, seconds: float) -> tuple[dict[str, object], float | None]:
    """Run a session in real time; return its counts and when its first verdict was taken."""
    with tempfile.TemporaryDirectory() as name:
        source = PacedPictures(pictures, seconds)
        done = run_session(
            source, Path(name), 176.0, seconds, "every step", limit_deg=4.0, window=True
        )
        with (Path(name) / "session" / "steps.csv").open(encoding="utf-8") as file:
            verdicts = [float(r["t_verdict_s"]) for r in csv.DictReader(file) if r["landing"]]
    frames = done.frames
    told = {
        "seconds": seconds,
        "captured": frames["captured"],
        "dropped": frames["dropped"],
        "dropped_share": round(frames["dropped"] / max(1, frames["captured"]), 5),
        "worked_fps": round((frames["captured"] - frames["dropped"]) / seconds, 2),
        "latency_s": done.session["latency_s"],
        "notices": done.session["notices"],
    }
    return told, min(verdicts, default=None)


def at_60(pictures: Pictures, seconds: float) -> dict[str, object]:
    """Hold the rate at 60 pictures a second, and the first verdict, against the bounds."""
    before = bare_rate(pictures)
    told, first_s = live(pictures, seconds)
    bare = median((before, bare_rate(pictures)))
    wanted = LEAST_SHARE * min(60.0, bare)
    worked = told["worked_fps"]
    assert isinstance(worked, float)
    stride_s = 120.0 / RATE_SPM
    soon = first_s is not None and first_s <= FIRST_VERDICT_STRIDES * stride_s
    return {
        "proof": "live_rate at 60",
        "holds": worked >= wanted and soon,
        "bare_fps": round(bare, 2),
        "wanted_fps": round(wanted, 2),
        **told,
        "first_verdict_s": first_s,
        "first_verdict_strides": None if first_s is None else round(first_s / stride_s, 2),
    }


def at_30(pictures: Pictures, seconds: float) -> dict[str, object]:
    """Hold the share of dropped pictures at 30 a second against its bound."""
    told, _ = live(pictures, seconds)
    share = told["dropped_share"]
    assert isinstance(share, float)
    return {"proof": "live_rate at 30", "holds": share < MOST_DROPPED, **told}


def starts(screen: VirtualScreen, count: int) -> dict[str, object]:
    """Start the program some times and see how long it takes to its first picture."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        draw_clip(folder / "clip.mp4", 5.0)
        took_s = [first_picture_s(screen, folder, number) for number in range(count)]
    told = [told_s(s) for s in took_s]
    return {
        "proof": "live_rate start",
        "holds": median(took_s) <= MOST_START_S and None not in told,
        "first_picture_s": told,
        "median_s": told_s(median(took_s)),
    }


def told_s(seconds: float) -> float | None:
    """Return it for JSON; None: it never came."""
    return None if seconds == float("inf") else round(seconds, 2)


def first_picture_s(screen: VirtualScreen, folder: Path, number: int) -> float:
    """Return the time from the program's start to its first picture on the screen."""
    middle = screen.pixels()[HEIGHT // 4 : 3 * HEIGHT // 4, WIDTH // 4 : 3 * WIDTH // 4, :3]
    deadline_s = time.monotonic() + LONGEST_START_S
    while is_lit(middle) and time.monotonic() < deadline_s:
        time.sleep(0.05)  # the window before it is still closing
    time.sleep(1.0)  # with its last window the screen's server begins anew
    words = [sys.executable, "-m", "station", "run", "--source", str(folder / "clip.mp4")]
    words += ["--belt-speed", "6 mph", "--mute", "--seconds", "3"]
    begun_s = time.monotonic()
    process = subprocess.Popen(
        [*words, "--out", str(folder / f"out{number}")],
        env=os.environ | screen.env,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        while not is_lit(middle):
            if process.poll() is not None or time.monotonic() - begun_s > LONGEST_START_S:
                return float("inf")
            time.sleep(0.005)
        return time.monotonic() - begun_s
    finally:
        process.terminate()
        process.wait(20.0)


def is_lit(middle: object) -> bool:
    """Whether a picture stands on the screen."""
    return bool((middle[::4, ::4].max(axis=2) > LIT).mean() >= LIT_SHARE)  # type: ignore[index]


if __name__ == "__main__":
    sys.exit(tell("live_rate", results()))
