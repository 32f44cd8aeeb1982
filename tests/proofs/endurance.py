"""Prove that eight hours cost no more at their end than at their start: memory, threads, time.

One session of the whole station, as fast as it goes: the loop, measurement, coach, beats, cues,
`steps.csv`, the records' database and a window on a screen that nobody sees are the real ones. The
first minutes of each hour are pictures of the simulated runner that go through the real pose model,
each one painted; the rest is that runner's landmarks, with noise, swapped legs and lost frames,
painted as the loop does when it is behind: the newest of several.

    python tests/proofs/endurance.py [--hours 8] [--pixels 4] [--fps 30] [--every 15] [--seconds 10]

`--pixels`: minutes of pictures in each hour; `--every`: landmarks to one painted picture;
`--seconds`: length of the runner's round, which is repeated. What the process holds is noted every
minute of the stream and told on the error stream every ten minutes. Prints one JSON line; exits 1
where memory or cost grows beyond what is allowed below, or threads or handles do.
"""

from __future__ import annotations

# First of all: it keeps numpy to one thread, as in `station run`.
import station  # noqa: F401

# isort: split

import argparse
import contextlib
import dataclasses
import io
import json
import os
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from kit.handles import Held, held_now
from kit.pictures import HEIGHT, WIDTH, Pictures
from kit.running import options, tell

from station.bench.pushing import spoil
from station.clock import Clock, StreamClock
from station.commands.perform import Job, perform
from station.commands.simulated import demo_bay, demo_scenario
from station.keep import make_place
from station.live.faults.renewing import RenewingModel
from station.live.feed import Seen
from station.ports import EndOfStream, SourceInfo
from station.see.pose_model import MediapipePose
from station.settings import read_plan
from station.simulate.gait import Runner
from station.simulate.parameters import GaitParameters
from station.simulate.picture import demo_view
from station.simulate.trace import poses
from station.values import Frame, Pose

MOST_GROWTH_MB = 20.0
"""After the first ten minutes."""
MOST_COST_RATIO = 1.2
"""Processor time of a frame, last hour by first: half of it landmarks', half pictures' (our own
choice: what other programs do to the caches is in it)."""
SETTLED_MIN = 10
WAYS = 6  # rounds of other noise, before they repeat
DRILL_MIN, REST_S = 28.0, 60.0
FEEDBACKS = ("every step", "fading", "summary", "off")


class Day:
    """Hours of frames, some with pictures: a feed whose frames are worked out when asked for."""

    def __init__(self, pictures: Pictures, asked: argparse.Namespace, clock: StreamClock) -> None:
        self._pictures, self._clock = pictures, clock
        self._fps, self._every = pictures.fps, int(asked.every)
        self._frames = round(asked.hours * 3600.0 * self._fps)
        self._pixel_minutes = asked.pixels
        self._model = RenewingModel(MediapipePose, clock)
        self._rounds = rounds(pictures)
        self._index = self._since = 0
        self.pixels = 0
        self.held: list[Held] = []
        """At each minute's end, the first at the start."""

    def start(self, clock: Clock) -> SourceInfo:
        return SourceInfo("day", WIDTH, HEIGHT, self._fps, False, self._frames)

    def next(self, timeout_s: float) -> Seen | None:
        self._since = 0
        return self._one()

    def waiting(self) -> Seen | None:
        """Return one more landmark frame, until a picture is to be painted."""
        self._since += 1
        if self._in_pixels(self._index) or self._since >= self._every:
            return None
        return self._one()

    def _one(self) -> Seen:
        while True:
            if self._index >= self._frames:
                raise EndOfStream()
            index, self._index = self._index, self._index + 1
            if index % round(60.0 * self._fps) == 0:
                self._note(index)
            t_s = index / self._fps
            turn, place = divmod(index, len(self._pictures))
            if self._in_pixels(index):
                self.pixels += 1
                frame = Frame(t_s, index, self._pictures.picture(index))
                seen = Seen(frame, self._model.find(frame))
            else:
                pose = self._rounds[turn % WAYS].get(place)
                if pose is None:
                    continue  # a frame that was lost
                seen = Seen(None, dataclasses.replace(pose, t_s=t_s, index=index))
            self._clock.move_to(t_s)
            return seen

    def _in_pixels(self, index: int) -> bool:
        return (index / self._fps / 60.0) % 60.0 < self._pixel_minutes

    def _note(self, index: int) -> None:
        self.held.append(held_now())
        minute = len(self.held) - 1
        if minute % 10 == 0:
            now = self.held[-1]
            told = f"{minute} min: {now.resident_mb:.1f} MB, {now.threads} threads, "
            print(f"{told}{now.handles} handles, {now.used_s:.0f} s", file=sys.stderr, flush=True)

    def detect_anew(self) -> None:
        self._model.detect_anew()

    @property
    def captured(self) -> int:
        return self._index

    @property
    def dropped(self) -> int:
        return 0

    def stop(self) -> None:
        self._model.close()


def rounds(pictures: Pictures) -> list[dict[int, Pose]]:
    """Return the pictures' landmarks by their place in a round, with noise, several times."""
    view = demo_view(WIDTH, HEIGHT)
    times = pictures.start_s + np.arange(len(pictures)) / pictures.fps
    exact = list(poses(Runner(pictures.way), view, times))
    found = []
    for seed in range(1, WAYS + 1):
        spoiled = spoil(exact, view.px_per_m, seed)
        place = {pose.t_s: i for i, pose in enumerate(exact)}
        found.append({place[pose.t_s]: pose for pose in spoiled})
    return found


def plan_text(hours: float) -> str:
    """Return a plan of drills with rests between them, some longer than the hours in all."""
    told = ['name = "Day"']
    for number in range(int(np.ceil(hours * 60.0 / DRILL_MIN)) + 1):
        told += [
            f'[[drill]]\nname = "Run {number + 1}"\nbelt_speed = "6 mph"\nstep_rate = 176',
            f"seconds = {60.0 * DRILL_MIN}\nlanding_limit_deg = 8.0",
            f'feedback = "{FEEDBACKS[number % len(FEEDBACKS)]}"',
            f'[[drill]]\nname = "Rest {number + 1}"\nkind = "rest"\nseconds = {REST_S}',
        ]
    return "\n".join(told) + "\n"


def results() -> Iterator[dict[str, object]]:
    """Run the proof."""
    asked = options(
        "Hours of the whole station.", hours=8.0, pixels=4.0, fps=30.0, every=15.0, seconds=10.0
    )
    os.environ["SDL_VIDEODRIVER"] = "dummy"  # a real window, on no screen
    with tempfile.TemporaryDirectory() as name:
        yield prove(Path(name), asked)


def prove(folder: Path, asked: argparse.Namespace) -> dict[str, object]:
    """Run the hours and judge."""
    way = GaitParameters(rate_spm=172.0, shank_deg=8.0)
    pictures = Pictures(way, asked.fps, asked.seconds)
    (folder / "plan.toml").write_text(plan_text(asked.hours), encoding="utf-8")
    days: list[Day] = []

    def make(clock: Clock) -> Day:
        assert isinstance(clock, StreamClock)
        days.append(Day(pictures, asked, clock))
        return days[0]

    job = Job(
        kind="clip",
        make_feed=make,
        source=None,
        plan=read_plan(folder / "plan.toml"),
        bay=demo_bay(demo_scenario()),
        out=folder / "session",
        runner="E1",
        stream_time=True,
        window=True,
        place=make_place(str(folder / "records")),
    )
    begun_s = time.monotonic()
    with contextlib.redirect_stdout(io.StringIO()):
        perform(job, argparse.Namespace())
    took_s = time.monotonic() - begun_s
    session = json.loads((folder / "session" / "session.json").read_text(encoding="utf-8"))
    with (folder / "session" / "steps.csv").open(encoding="utf-8") as file:
        steps = sum(1 for _ in file) - 1
    return judged(days[0], asked) | {
        "steps": steps,
        "ended": session["ended"],
        "notices": session["notices"],
        "took_min": round(took_s / 60.0, 1),
    }


def judged(day: Day, asked: argparse.Namespace) -> dict[str, object]:
    """Hold what was noted against the bounds."""
    held = day.held
    settled = held[min(SETTLED_MIN, len(held) - 1) :]
    growth_mb = max(h.resident_mb for h in settled) - settled[0].resident_mb
    threads, handles = ([getattr(h, k) for h in settled] for k in ("threads", "handles"))
    per_minute = np.diff([h.used_s for h in held]) / (60.0 * asked.fps) * 1000.0
    minute = np.arange(per_minute.size)
    ms: dict[str, list[float]] = {}
    for name, mine in (
        ("pictures", (minute % 60) < np.floor(asked.pixels)),
        ("landmarks", (minute % 60) >= np.ceil(asked.pixels)),
    ):
        hours = [per_minute[mine & (minute // 60 == h)] for h in range(int(np.ceil(asked.hours)))]
        ms[name] = [round(float(np.median(hour)), 3) for hour in hours if hour.size]
    ratios = {name: round(each[-1] / each[0], 3) for name, each in ms.items() if each}
    good = (
        growth_mb < MOST_GROWTH_MB
        and len(set(threads)) == 1
        and len(set(handles)) == 1
        and max(ratios.values()) <= MOST_COST_RATIO
    )
    return {
        "proof": "endurance",
        "holds": good,
        "hours": asked.hours,
        "pixel_minutes": round(day.pixels / asked.fps / 60.0, 1),
        "frames": day.captured,
        "after_10_min_mb": round(settled[0].resident_mb, 1),
        "at_end_mb": round(settled[-1].resident_mb, 1),
        "growth_mb": round(growth_mb, 1),
        "each_hour_mb": [round(h.resident_mb, 1) for h in held[::60]],
        "threads": sorted(set(threads)),
        "handles": sorted(set(handles)),
        "ms_per_frame_each_hour": ms,
        "last_by_first": ratios,
    }


if __name__ == "__main__":
    sys.exit(tell("endurance", results()))
