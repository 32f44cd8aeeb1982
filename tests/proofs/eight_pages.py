"""Prove that eight open pages change neither the pictures worked nor the beat.

Sessions in turns, with nobody and with eight devices that take every state; the devices are a
process of their own, as they are on other machines in a bay. The beat is judged in the recording of
the sound server.

    python tests/proofs/eight_pages.py [--seconds 40] [--fps 60] [--pairs 2]

Prints one JSON line; exits 1 where fewer pictures are worked, by more than the runs without a page
differ between themselves (at least 3 % are allowed for), or a beat is out of place.
"""

from __future__ import annotations

import station  # noqa: F401

# isort: split

import http.client
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from kit.beats import beat_tones
from kit.overheard import Overheard, free_port, listens
from kit.pictures import PacedPictures, Pictures
from kit.running import options, served, tell
from kit.session import run_session
from kit.tape import read_tape, taping
from kit.tones_found import evenness, find_beats
from pulse import PulseServer

from station.simulate.parameters import GaitParameters

PAGES = 8
RATE_SPM = 172.0
LEAST_NOISE = 0.03
CLIENT = """
import sys, threading
from websockets.sync.client import connect
port, cookies = sys.argv[1], sys.argv[2:]
counts = [0] * len(cookies)
def page(place):
    try:
        with connect(f"ws://127.0.0.1:{port}/live", origin=f"http://127.0.0.1:{port}",
                     additional_headers={"Cookie": cookies[place]}) as line:
            for _ in line:
                counts[place] += 1
    except Exception as fault:
        print(fault, file=sys.stderr)
threads = [threading.Thread(target=page, args=(place,)) for place in range(len(cookies))]
[one.start() for one in threads]
[one.join() for one in threads]
print(*counts)
"""


def results() -> Iterator[dict[str, object]]:
    """Run the proof."""
    asked = options("Eight pages beside the loop.", seconds=40.0, fps=60.0, pairs=2.0)
    pictures = Pictures(GaitParameters(rate_spm=RATE_SPM), asked.fps, 8.0)
    with served() as server:
        yield prove(server, pictures, asked.seconds, int(asked.pairs))


def prove(server: PulseServer, pictures: Pictures, seconds: float, pairs: int) -> dict[str, object]:
    """Run in turns: without, with, with, without, ..."""
    worked: dict[int, list[float]] = {0: [], PAGES: []}
    beats: dict[int, list[bool]] = {0: [], PAGES: []}
    states: list[int] = []
    for pair in range(pairs):
        for pages in (0, PAGES) if pair % 2 == 0 else (PAGES, 0):
            fps, even, seen = once(server, pictures, seconds, pages)
            worked[pages].append(fps)
            beats[pages].append(even)
            states += seen
    without, with_pages = (float(np.mean(worked[n])) for n in (0, PAGES))
    noise = max(LEAST_NOISE, float(np.ptp(worked[0])) / without)
    return {
        "proof": "eight_pages",
        "holds": with_pages / without >= 1.0 - noise
        and all(beats[0] + beats[PAGES])
        and min(states, default=0) > seconds,
        "worked_fps_without": [round(one, 1) for one in worked[0]],
        "worked_fps_with": [round(one, 1) for one in worked[PAGES]],
        "ratio": round(with_pages / without, 4),
        "noise": round(noise, 4),
        "beats_even_without": beats[0],
        "beats_even_with": beats[PAGES],
        "states_each_page": states,
    }


def once(
    server: PulseServer, pictures: Pictures, seconds: float, pages: int
) -> tuple[float, bool, list[int]]:
    """Run one session; return pictures worked a second, whether the beat was even, states seen."""
    port, seen = free_port(), []
    with Overheard() as heard, tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        watching = threading.Thread(target=_watch, args=(heard, port, pages, seen))
        if pages:
            watching.start()
        with taping(server.env, folder / "tape", markers=False):
            bay = {"coach_page": True, "coach_page_host": "127.0.0.1", "coach_page_port": port}
            source = PacedPictures(pictures, seconds + 5.0)
            done = run_session(source, folder, RATE_SPM, seconds, bay=bay)
        if pages:
            watching.join(30.0)
        sound = read_tape(folder / "tape").sound
    even = evenness(find_beats(sound[:, 0], beat_tones()), RATE_SPM)
    frames = done.frames
    return (frames["captured"] - frames["dropped"]) / seconds, bool(even.holds), seen


def _watch(heard: Overheard, port: int, pages: int, seen: list[int]) -> None:
    while heard.session is None or not listens(port):
        time.sleep(0.05)
    cookies = []
    for _ in range(pages):
        line = http.client.HTTPConnection("127.0.0.1", port, timeout=10.0)
        line.request("POST", "/join", heard.code(), {"Origin": f"http://127.0.0.1:{port}"})
        cookies.append(str(line.getresponse().headers["Set-Cookie"]).split(";")[0])
        line.close()
    command = [sys.executable, "-c", CLIENT, str(port), *cookies]
    told = subprocess.run(command, check=False, capture_output=True, text=True)
    seen += [int(word) for word in told.stdout.split()]


if __name__ == "__main__":
    sys.exit(tell("eight_pages", results()))
