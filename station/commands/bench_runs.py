"""The runs that the bench's speed is made of: the pose model alone, the whole station on a clip.

The pose model alone reads the clip and finds every pose: as the package has it, and as the station
runs it. The whole loop measures, coaches, paints and records as well, as `station run --fast
--video` does.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import json
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast

from station.clock import Clock, StreamClock
from station.coach.plan import Drill, Plan, StepRate
from station.commands.perform import Job, perform
from station.commands.simulated import demo_bay, demo_scenario
from station.errors import NothingUsable
from station.live import SIDE_BY_SIDE, AheadFeed, Feed, ThreadedFeed
from station.live.faults.renewing import RenewingModel
from station.live.feed import Seen
from station.live.loop import END_OF_STREAM
from station.live.stages import StageTimes, Timer, untimed
from station.ports import EndOfStream, FrameSource, SourceInfo
from station.see.clip import ClipSource
from station.see.pose_model import MediapipePose
from station.units import parse_speed
from station.values import Frame, Pose

THREADS = SIDE_BY_SIDE
"""Inference threads of either: on one picture together, or each on its own."""
LIMIT_DEG = 4.0
BELT_SPEED = "6 mph"
_BEAT_SPM = 176.0


@dataclass(frozen=True, slots=True)
class Ran:
    """What one run came to."""

    frames: int
    took_s: float
    cpu_s: float
    """Processor time of all threads."""
    finding_s: float = 0.0
    """In the pose model alone."""

    @property
    def fps(self) -> float:
        """Frames a second of the whole run."""
        return self.frames / self.took_s

    @property
    def cpu_ms(self) -> float:
        """Processor time of a frame."""
        return 1000.0 * self.cpu_s / self.frames


def run_bare(clip: Path) -> Ran:
    """Read the clip and find every pose with the package's model: whole, spread over threads."""
    source, model = ClipSource(clip), MediapipePose(THREADS, whole=True)
    source.start(StreamClock(), paced=False)
    frames, finding_s = 0, 0.0
    cpu_s, begun_s = time.process_time(), time.perf_counter()
    try:
        while True:
            frame = source.receive(0.0)
            if frame is None:
                continue
            find_s = time.perf_counter()
            model.find(frame)
            finding_s += time.perf_counter() - find_s
            frames += 1
    except EndOfStream:
        took_s, cpu_s = time.perf_counter() - begun_s, time.process_time() - cpu_s
    finally:
        source.stop()
        model.close()
    return Ran(frames, took_s, cpu_s, finding_s)


def run_alone(clip: Path) -> Ran:
    """Read the clip and find every pose as the station does it, and nothing else."""
    clock = StreamClock()
    feed = _Watched(AheadFeed(ClipSource(clip), [MediapipePose() for _ in range(THREADS)], clock))
    feed.start(clock)
    try:
        with contextlib.suppress(EndOfStream):
            while True:
                feed.next(0.0)
    finally:
        feed.stop()
    return feed.ran()


def run_loop_once(clip: Path, out: Path, times: StageTimes) -> Ran:
    """Run a whole session on the clip as fast as it goes, painted and recorded.

    Raises:
        KeyboardInterrupt: It was ended from outside.
    """
    watched: list[_Watched] = []

    def make(clock: Clock) -> Feed:
        source = _TimedSource(ClipSource(clip), times.time)
        models = [
            RenewingModel(lambda: _TimedModel(MediapipePose(), times.time), clock)
            for _ in range(SIDE_BY_SIDE)
        ]
        watched.append(_Watched(AheadFeed(source, models, cast(StreamClock, clock))))
        return watched[0]

    _perform(make, out, fast=True, timer=times.time)
    return watched[0].ran()


def run_live(clip: Path, seconds: float, out: Path) -> dict[str, Any]:
    """Run a whole session on the clip in real time, painted and recorded, without a sound.

    Args:
        clip: The clip.
        seconds: How long it is.
        out: The session's folder, to be made.

    Returns:
        Frames and delays as the session tells them; a cue's is that of a silent device with the
        usual 40 ms.
    """

    def make(clock: Clock) -> Feed:
        models = (RenewingModel(MediapipePose, clock) for _ in range(SIDE_BY_SIDE))
        return ThreadedFeed(ClipSource(clip), *models)

    told = _perform(make, out, fast=False)
    frames = told["frames"]
    delays = {
        key: None
        if one is None
        else {k: round(1000.0 * one[k], 1) for k in ("median", "p95")} | {"count": one["count"]}
        for key, one in told["latency_s"].items()
    }
    return {
        "captured": frames["captured"],
        "dropped": frames["dropped"],
        "dropped_share": round(frames["dropped"] / max(1, frames["captured"]), 4),
        "worked_fps": round((frames["captured"] - frames["dropped"]) / seconds, 1),
        "latency_ms": delays,
    }


def _perform(
    make: Callable[[Clock], Feed], out: Path, fast: bool, timer: Timer = untimed
) -> dict[str, Any]:
    """Perform a session without a word, and return what its file says."""
    bay = demo_bay(demo_scenario())
    job = Job(
        kind="clip",
        make_feed=make,
        source=None,
        plan=_plan(),
        bay=bay,
        out=out,
        stream_time=fast,
        video=True,
        mute=not fast,
        timer=timer,
    )
    found = False
    with (
        contextlib.redirect_stdout(io.StringIO()),
        contextlib.redirect_stderr(io.StringIO()),
        contextlib.suppress(NothingUsable),  # so slow a machine: its figures say so
    ):
        perform(job, argparse.Namespace())
        found = True
    told: dict[str, Any] = json.loads((out / "session.json").read_text(encoding="utf-8"))
    if found and told["ended"] != END_OF_STREAM:
        raise KeyboardInterrupt
    return told


def _plan() -> Plan:
    drill = Drill(
        name="Bench",
        belt_speed_mps=parse_speed(BELT_SPEED).mps,
        belt_speed_text=BELT_SPEED,
        step_rate=StepRate(spm=_BEAT_SPM),
        seconds=3600.0,
        landing_limit_deg=LIMIT_DEG,
        feedback="every step",
    )
    return Plan("Bench", (drill,))


# --- what is timed --------------------------------------------------------------------------------


class _TimedSource:
    """Another source, each reading timed."""

    def __init__(self, source: FrameSource, timer: Timer) -> None:
        self._source, self._timer = source, timer

    def start(self, clock: Clock, paced: bool) -> SourceInfo:
        return self._source.start(clock, paced)

    def receive(self, timeout_s: float) -> Frame | None:
        with self._timer("read"):
            return self._source.receive(timeout_s)

    def stop(self) -> None:
        self._source.stop()


class _TimedModel:
    """A pose model, each finding timed."""

    def __init__(self, model: MediapipePose, timer: Timer) -> None:
        self._model, self._timer = model, timer

    def find(self, frame: Frame) -> Pose:
        with self._timer("pose"):
            return self._model.find(frame)

    def detect_anew(self) -> None:
        self._model.detect_anew()

    def close(self) -> None:
        self._model.close()


class _Watched:
    """A feed, timed from the first frame's asking to the last one's end."""

    def __init__(self, feed: AheadFeed) -> None:
        self._feed = feed
        self._begun: tuple[float, float] | None = None
        self._ended: tuple[float, float] | None = None

    def start(self, clock: Clock) -> SourceInfo:
        return self._feed.start(clock)

    def next(self, timeout_s: float) -> Seen | None:
        if self._begun is None:
            self._begun = time.perf_counter(), time.process_time()
        try:
            return self._feed.next(timeout_s)
        except EndOfStream:
            self._ended = time.perf_counter(), time.process_time()
            raise

    def waiting(self) -> Seen | None:
        return self._feed.waiting()

    def detect_anew(self) -> None:
        self._feed.detect_anew()

    @property
    def captured(self) -> int:
        return self._feed.captured

    @property
    def dropped(self) -> int:
        return self._feed.dropped

    def stop(self) -> None:
        self._feed.stop()

    def ran(self) -> Ran:
        assert self._begun is not None
        assert self._ended is not None
        took_s, cpu_s = (b - a for a, b in zip(self._begun, self._ended, strict=True))
        return Ran(self.captured, took_s, cpu_s)
