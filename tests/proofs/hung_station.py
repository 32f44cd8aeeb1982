"""Prove that a supervisor's watchdog starts a station anew that hangs or crashes.

A small supervisor stands for systemd and does what `config/landing-station.service` asks of it: it
gives the station a socket (NOTIFY_SOCKET) and a time (WATCHDOG_USEC), kills it when no beat came
for so long, and starts it again when it ended by a fault. The station is `station bay` with
the demo's runner on a virtual screen; in it one part after the other hangs for good: the loop,
the pose thread, the camera's thread, the whole process (SIGSTOP); and it crashes once (SIGSEGV).
Each time it must be killed in time, and stand on its waiting page again.

In time: a part that hangs may still have moved on since the last beat, so that one more beat is
sent, at most a beat's interval (W / BEATS) after the hang; after it the supervisor waits for W,
the unit's WatchdogSec. So a kill comes W (1 + 1 / BEATS) after the hang at the latest, and what
the two programs take to notice: a turn of the loop, and the supervisor's look (LOOK_S).

    python tests/proofs/hung_station.py [--watchdog 10] [--part all|loop|pose|camera|process|crash]

Prints one JSON line for each; exits 1 where one does not hold, 3 where there is no virtual screen.
"""

from __future__ import annotations

import station  # noqa: F401

# isort: split

import contextlib
import os
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from kit.running import options, shown, tell

from station.commands.service import BEATS

PARTS = ("loop", "pose", "camera", "process", "crash")
STATION = Path(__file__).parent / "kit" / "hanging_station.py"
START_MOST_S = 90.0
"""As in the unit."""
BEATS_BEFORE = 3
LOOK_S = 0.2
"""The small supervisor looks so often."""
TURN_S = 0.5
"""A turn of the loop with the longest that it may wait in it: a picture's 0.1 s, and the threads'
0.1 s; the rest is the painting of a page on a busy machine."""


class Supervisor:
    """Starts the station and hears what it tells."""

    def __init__(self, folder: Path, watchdog_s: float) -> None:
        self.watchdog_s = watchdog_s
        self.folder = folder
        self.address = folder / "notify"
        self.process: subprocess.Popen[bytes] | None = None
        self.told: list[tuple[float, str]] = []
        self.socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self.socket.bind(str(self.address))

    def start(self, part: str) -> None:
        (self.folder / "bay.toml").write_text(
            f'[visit]\nstaff_code = "2468"\n[records]\nfolder = "{self.folder}/records"\n'
        )
        env = os.environ | {
            "NOTIFY_SOCKET": str(self.address),
            "WATCHDOG_USEC": str(round(1e6 * self.watchdog_s)),
            "HUNG_AT": str(self.folder / "hung"),
        }
        self.told = []
        self.process = subprocess.Popen(
            [sys.executable, str(STATION), part, "bay", "--bay", str(self.folder / "bay.toml"),
             "--plan", "retention", "--source", "demo", "--mute", "--window"],
            env=env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip

    def hear(self, seconds: float) -> None:
        """Listen for at most so long, or until something is told."""
        self.socket.settimeout(max(0.01, seconds))
        with contextlib.suppress(TimeoutError):
            text = self.socket.recv(1000).decode()
            self.told.append((time.monotonic(), text))

    def until(self, line: str, count: int, most_s: float) -> float:
        """Wait for a line to be told so often; return how long it took."""
        began_s = time.monotonic()
        while sum(text == line for _, text in self.told) < count:
            if time.monotonic() - began_s > most_s:
                raise TimeoutError(f"{line} was not told {count} times within {most_s:.0f} s")
            if self.process is None or self.process.poll() is not None:
                raise TimeoutError("the station ended before its time")
            self.hear(0.5)
        return time.monotonic() - began_s

    def watch(self, most_s: float) -> tuple[str, float]:
        """Do what the unit asks: return why the station has to be started again, and since when."""
        assert self.process is not None
        end_s = time.monotonic() + most_s
        while time.monotonic() < end_s:
            self.hear(LOOK_S)
            if self.process.poll() is not None:
                return f"ended by {self.process.returncode}", time.monotonic()
            last_s = max(at_s for at_s, text in self.told if text == "WATCHDOG=1")
            if time.monotonic() - last_s > self.watchdog_s:
                due_s = time.monotonic()
                self.kill()
                return "watchdog", due_s
        return "nothing happened", time.monotonic()

    def hung_since(self, asked_s: float) -> float:
        """Return when the part really began to hang: not before it was next called."""
        told = self.folder / "hung"
        return float(told.read_text()) if told.exists() else asked_s

    def kill(self) -> None:
        if self.process is not None and self.process.poll() is None:
            self.process.kill()
            self.process.wait(10)

    def close(self) -> None:
        self.kill()
        self.socket.close()


def judged(part: str, watchdog_s: float) -> dict[str, Any]:
    """Let one part hang, and see that the station is back."""
    with tempfile.TemporaryDirectory() as folder:
        supervisor = Supervisor(Path(folder), watchdog_s)
        try:
            supervisor.start(part if part in ("loop", "pose", "camera") else "none")
            process = supervisor.process
            assert process is not None
            ready_s = supervisor.until("READY=1", 1, START_MOST_S)
            supervisor.until("WATCHDOG=1", BEATS_BEFORE, BEATS_BEFORE * watchdog_s)
            signals = {"process": signal.SIGSTOP, "crash": signal.SIGSEGV}
            process.send_signal(signals.get(part, signal.SIGUSR1))
            asked_s = time.monotonic()
            why, due_s = supervisor.watch(3.0 * watchdog_s)
            gone_s = time.monotonic()
            hung_s = supervisor.hung_since(asked_s)
            last_s = max(at_s for at_s, text in supervisor.told if text == "WATCHDOG=1")
            supervisor.start("none")
            again_s = supervisor.until("READY=1", 1, START_MOST_S)
            supervisor.until("STATUS=waiting", 1, 10.0)
            beats_s = supervisor.until("WATCHDOG=1", 2, 2.0 * watchdog_s)
        except TimeoutError as fault:
            return {"proof": "hung_station", "part": part, "trouble": str(fault), "holds": False}
        finally:
            supervisor.close()
    wanted = why.startswith("ended by -") if part == "crash" else why == "watchdog"
    most_s = watchdog_s * (1.0 + 1.0 / BEATS) + TURN_S + LOOK_S
    ended_s = due_s - hung_s
    return {
        "proof": "hung_station", "part": part, "ready_s": round(ready_s, 1), "ended_by": why,
        "ended_after_s": round(ended_s, 2), "most_s": round(most_s, 2),
        "beat_after_hang_s": round(last_s - hung_s, 2), "gone_s": round(gone_s - due_s, 2),
        "waiting_again_s": round(again_s, 1), "beats_after_s": round(beats_s, 1),
        "watchdog_s": watchdog_s, "holds": wanted and ended_s <= most_s,
    }  # fmt: skip


def results(watchdog_s: float, part: str) -> Iterator[dict[str, Any]]:
    with shown():
        for one in PARTS if part == "all" else (part,):
            yield judged(one, watchdog_s)


def main() -> int:
    args = options(__doc__.splitlines()[0], watchdog=10.0, part=("all", *PARTS))
    return tell("hung_station", results(args.watchdog, args.part))


if __name__ == "__main__":
    sys.exit(main())
