"""Prove that eight open pages change neither the pictures worked nor the beat.

One session in which nobody and eight devices take turns, in pairs of short blocks whose order is
drawn: sessions of their own differ by 15 % in what they work, neighbouring blocks of one session
by little, and what drifts meets both alike. The devices take every state; they are a process of
their own, as they are on other machines in a bay. The beat is judged in the recording of the sound
server.

    python tests/proofs/eight_pages.py [--fps 60] [--pairs 20] [--block 6]

Prints one JSON line: the ratio of pictures worked with pages to those without, by pairs, with its
95 % interval, and the same of the processor's time a picture, which is told and not judged. Exits
1 where the first interval is too wide to tell 5 %, where it does not lie above 0.95, or where a
beat is out of place. Needs a machine that does nothing else for five minutes.
"""

from __future__ import annotations

import station  # noqa: F401

# isort: split

import http.client
import math
import random
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from kit.beats import beat_tones
from kit.overheard import Overheard, free_port, listens
from kit.pictures import PacedPictures, Pictures
from kit.running import options, served, tell
from kit.session import run_session
from kit.tape import read_tape, taping
from kit.tones_found import evenness, find_beats
from numpy.typing import NDArray
from pulse import PulseServer
from scipy import stats

from station.live.session import Session
from station.page.server import CoachPageServer
from station.simulate.parameters import GaitParameters

PAGES = 8
RATE_SPM = 172.0
MOST_COST = 0.05
LEAD_S = 8.0
"""Before the first block: the view is learned, the model is warm."""
SETTLE_S = 1.0
"""Of each block's beginning that is not counted: devices come and go."""
CLIENT = """
import sys, threading
from websockets.sync.client import connect
port, cookies = sys.argv[1], sys.argv[2:]
counts, on, over = [0] * len(cookies), threading.Event(), threading.Event()
def page(place):
    while not over.is_set():
        if not on.wait(0.05):
            continue
        try:
            with connect(f"ws://127.0.0.1:{port}/live", origin=f"http://127.0.0.1:{port}",
                         additional_headers={"Cookie": cookies[place]}) as line:
                while on.is_set():
                    try:
                        line.recv(timeout=0.5)
                        counts[place] += 1
                    except TimeoutError:
                        pass
        except Exception as fault:
            print(fault, file=sys.stderr)
            over.wait(0.2)
threads = [threading.Thread(target=page, args=(place,)) for place in range(len(cookies))]
[one.start() for one in threads]
for line in sys.stdin:
    on.set() if line.strip() == "on" else on.clear()
on.clear(); over.set()
[one.join() for one in threads]
print(*counts)
"""


@dataclass(frozen=True)
class Block:
    """A part of the session."""

    from_s: float
    to_s: float
    """Monotonic."""
    cpu_s: float
    """Of the processor, this whole process."""

    def worked(self, times_s: list[float]) -> int:
        """Return how many pictures were worked in it."""
        return sum(self.from_s <= t_s < self.to_s for t_s in times_s)


@dataclass
class Watched:
    """What a session worked, and when who was there."""

    worked_s: list[float] = field(default_factory=list)
    blocks: dict[tuple[int, bool], Block] = field(default_factory=dict)
    """By pair, and whether pages were there."""
    states: list[int] = field(default_factory=list)
    there: bool = False
    fault: str | None = None

    def table(self, pairs: int) -> NDArray[np.float64]:
        """Return (2, pairs, 2): pictures a second and processor's seconds a picture.

        The last axis is without and with pages.
        """
        blocks = [[self.blocks[pair, there] for there in (False, True)] for pair in range(pairs)]
        worked = np.array([[block.worked(self.worked_s) for block in pair] for pair in blocks])
        lasted_s = np.array([[block.to_s - block.from_s for block in pair] for pair in blocks])
        cpu_s = np.array([[block.cpu_s for block in pair] for pair in blocks])
        return np.stack((worked / lasted_s, cpu_s / worked))


def results() -> Iterator[dict[str, object]]:
    """Run the proof."""
    asked = options("Eight pages beside the loop.", fps=60.0, pairs=20.0, block=6.0)
    pictures = Pictures(GaitParameters(rate_spm=RATE_SPM), asked.fps, 8.0)
    with served() as server:
        yield prove(server, pictures, int(asked.pairs), asked.block)


def prove(server: PulseServer, pictures: Pictures, pairs: int, block_s: float) -> dict[str, object]:
    """Run the session and compare its blocks."""
    watched, even = session(server, pictures, pairs, block_s)
    told: dict[str, Any] = {"proof": "eight_pages", "holds": False, "pairs": pairs}
    if watched.fault is not None or len(watched.blocks) < 2 * pairs:
        return {**told, "fault": watched.fault or "the session ended too soon"}
    rates, cpu_s = watched.table(pairs)
    (low, ratio, high), half = compared(rates)
    cpu, cpu_half = compared(cpu_s)
    return {
        **told,
        "holds": half < MOST_COST
        and low > 1.0 - MOST_COST
        and bool(even.holds)
        and min(watched.states, default=0) > pairs * block_s,
        "ratio": round(ratio, 4),
        "interval_95": [round(low, 4), round(high, 4)],
        "noise": round(half, 4),
        "unchanged_within_noise": low <= 1.0 <= high,
        "worked_fps_without": round(float(rates[:, 0].mean()), 1),
        "worked_fps_with": round(float(rates[:, 1].mean()), 1),
        "cpu_ms_a_picture_without": round(1000.0 * float(cpu_s[:, 0].mean()), 2),
        "cpu_ms_a_picture_with": round(1000.0 * float(cpu_s[:, 1].mean()), 2),
        "cpu_ratio": round(cpu[1], 4),
        "cpu_noise": round(cpu_half, 4),
        "beats": even.beats,
        "beats_lost": even.lost,
        "beats_even": bool(even.holds),
        "states_each_page": watched.states,
    }


def compared(table: NDArray[np.float64]) -> tuple[tuple[float, float, float], float]:
    """Return the ratio with to without by pairs: low end, middle, high end; and half its width.

    Args:
        table: (pairs, 2), without and with.
    """
    logs, pairs = np.log(table[:, 1] / table[:, 0]), len(table)
    half = float(stats.t.ppf(0.975, pairs - 1) * logs.std(ddof=1) / math.sqrt(pairs))
    low, middle, high = (math.exp(float(logs.mean()) + by) for by in (-half, 0.0, half))
    return (low, middle, high), half


def session(
    server: PulseServer, pictures: Pictures, pairs: int, block_s: float
) -> tuple[Watched, Any]:
    """Run it; return what was worked, and how even the beat was."""
    watched, port = Watched(), free_port()
    seconds = LEAD_S + 2 * pairs * block_s + 4.0
    taken, devices = Session.take, CoachPageServer.devices

    def take(self: Session, *given: Any) -> bool:
        watched.worked_s.append(time.monotonic())
        return taken(self, *given)

    def joined(self: CoachPageServer) -> int:
        """Nobody has joined while nobody is there: then the loop makes no states either."""
        return devices.fget(self) if watched.there else 0  # type: ignore[attr-defined]

    Session.take, CoachPageServer.devices = take, property(joined)  # type: ignore[assignment,method-assign]
    try:
        with Overheard() as heard, tempfile.TemporaryDirectory() as name:
            turns = threading.Thread(
                target=_take_turns, args=(watched, heard, port, pairs, block_s)
            )
            turns.start()
            bay = {"coach_page": True, "coach_page_host": "127.0.0.1", "coach_page_port": port}
            with taping(server.env, Path(name) / "tape", markers=False):
                source = PacedPictures(pictures, seconds + 5.0)
                run_session(source, Path(name), RATE_SPM, seconds, bay=bay)
            turns.join(60.0)
            sound = read_tape(Path(name) / "tape").sound
    finally:
        Session.take, CoachPageServer.devices = taken, devices  # type: ignore[method-assign]
    return watched, evenness(find_beats(sound[:, 0], beat_tones()), RATE_SPM)


def _take_turns(watched: Watched, heard: Overheard, port: int, pairs: int, block_s: float) -> None:
    try:
        end_s = time.monotonic() + 60.0
        while heard.session is None or not watched.worked_s or not listens(port):
            if time.monotonic() > end_s:
                raise TimeoutError("no session began")
            time.sleep(0.05)
        time.sleep(LEAD_S)
        command = [sys.executable, "-c", CLIENT, str(port), *_joined(heard, port)]
        with subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        ) as devices:
            assert devices.stdin is not None
            draw = random.Random(8)
            for pair in range(pairs):
                for there in draw.sample((False, True), 2):
                    watched.there = there
                    devices.stdin.write("on\n" if there else "off\n")
                    devices.stdin.flush()
                    time.sleep(SETTLE_S)
                    from_s, cpu_s = time.monotonic(), time.process_time()
                    time.sleep(block_s - SETTLE_S)
                    watched.blocks[pair, there] = Block(
                        from_s, time.monotonic(), time.process_time() - cpu_s
                    )
            told, _ = devices.communicate(timeout=20.0)
        watched.states += [int(word) for word in told.split()]
    except Exception as fault:
        watched.fault = f"{type(fault).__name__}: {fault}"


def _joined(heard: Overheard, port: int) -> list[str]:
    cookies = []
    for _ in range(PAGES):
        line = http.client.HTTPConnection("127.0.0.1", port, timeout=10.0)
        line.request("POST", "/join", heard.code(), {"Origin": f"http://127.0.0.1:{port}"})
        cookies.append(str(line.getresponse().headers["Set-Cookie"]).split(";")[0])
        line.close()
    return cookies


if __name__ == "__main__":
    sys.exit(tell("eight_pages", results()))
