"""How fast the whole station is beside its pose model alone, on the same clip and threads.

Both are run in turns, so that what else the machine does bears on both. The pose model alone reads
the clip and finds every pose; the whole loop measures, coaches, paints and records as well, as
`station run --fast --video` does.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import json
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast

import numpy as np

from station.clock import Clock, StreamClock
from station.coach.plan import Drill, Plan, StepRate
from station.commands.bench_clip import FPS, HEIGHT, WIDTH, draw_clip
from station.commands.perform import Job, perform
from station.commands.simulated import demo_bay, demo_scenario
from station.errors import NothingUsable
from station.live import AheadFeed, Feed, ThreadedFeed
from station.live.faults.renewing import RenewingModel
from station.live.feed import Seen
from station.live.loop import END_OF_STREAM
from station.live.stages import StageTimes, Timer, untimed
from station.ports import EndOfStream, FrameSource, SourceInfo
from station.see.clip import ClipSource
from station.see.pose_model import MediapipePose
from station.units import parse_speed
from station.values import Frame, Pose

THREADS = 2
GOAL = 0.85
"""Asked of the whole loop, as a share of the pose model's rate."""
CLIP_S = 10.0
LIMIT_DEG = 4.0
BELT_SPEED = "6 mph"
_BEAT_SPM = 176.0


@dataclass(frozen=True, slots=True)
class Pair:
    """One run of each, one right after the other; frames a second."""

    bare_fps: float
    """The clip read and every pose found, nothing else."""
    model_fps: float
    """The same without the reading: as though pictures came by themselves."""
    loop_fps: float

    @property
    def ratio(self) -> float:
        """The whole loop's rate as a share of the model's on the same clip."""
        return self.loop_fps / self.bare_fps


@dataclass(frozen=True, slots=True)
class Speed:
    """What came of all runs."""

    pairs: tuple[Pair, ...]
    stages: StageTimes
    """Of all whole loops together."""
    cpu_ms: tuple[float, float]
    """Processor time of a frame: the pose model alone, the whole loop; medians of the runs."""
    memory_mb: float | None
    """Most that this process has held so far; None: not known on this system."""
    live: dict[str, Any]
    """The same clip in real time."""

    @property
    def ratio(self) -> float:
        """Median of the pairs' ratios."""
        return float(np.median([pair.ratio for pair in self.pairs]))

    def as_dict(self) -> dict[str, Any]:
        """Return it for JSON."""
        return {
            "clip": {"width": WIDTH, "height": HEIGHT, "fps": FPS, "seconds": CLIP_S},
            "threads": THREADS,
            "pairs": [
                {
                    "bare_fps": round(pair.bare_fps, 2),
                    "model_fps": round(pair.model_fps, 2),
                    "loop_fps": round(pair.loop_fps, 2),
                    "ratio": round(pair.ratio, 4),
                }
                for pair in self.pairs
            ],
            "ratio": round(self.ratio, 4),
            "ratio_asked": GOAL,
            "holds": self.ratio >= GOAL,
            "stages_ms": {name: spread_ms(taken) for name, taken in self.stages.taken_s.items()},
            "cpu_ms_per_frame": dict(
                zip(("bare", "loop"), (round(ms, 2) for ms in self.cpu_ms), strict=True)
            ),
            "peak_memory_mb": None if self.memory_mb is None else round(self.memory_mb, 1),
            "live": self.live,
        }


def spread_ms(taken_s: Sequence[float]) -> dict[str, float]:
    """Return median and 95th percentile in milliseconds."""
    median, p95 = np.percentile(np.asarray(taken_s), (50, 95))
    return {"median": round(1000.0 * float(median), 2), "p95": round(1000.0 * float(p95), 2)}


def measure_speed(
    pairs: int, tell: Callable[[int, int], None] = lambda done, all_of: None
) -> Speed:
    """Run everything, one thing at a time.

    Args:
        pairs: How many runs of each, 1 or more.
        tell: Told how many runs of how many are done.

    Raises:
        KeyboardInterrupt: A run was ended from outside.
    """
    times = StageTimes()
    found: list[Pair] = []
    cpu: list[tuple[float, float]] = []
    with tempfile.TemporaryDirectory(prefix="station-bench-") as name:
        folder, clip = Path(name), Path(name) / "clip.mp4"
        draw_clip(clip, CLIP_S)
        all_of = 2 * pairs + 1
        for number in range(pairs):
            runs: dict[str, _Ran] = {}
            # By turns first: a machine that warms up or slows down favours neither.
            for place, kind in enumerate(("bare", "loop")[:: 1 if number % 2 == 0 else -1]):
                out = folder / f"loop{number}"
                runs[kind] = run_bare(clip) if kind == "bare" else run_loop_once(clip, out, times)
                tell(2 * number + place + 1, all_of)
            bare, loop = runs["bare"], runs["loop"]
            found.append(Pair(bare.fps, bare.frames / bare.finding_s, loop.fps))
            cpu.append((bare.cpu_ms, loop.cpu_ms))
        live = run_live(clip, folder / "live")
        tell(all_of, all_of)
    bare_ms, loop_ms = (float(np.median(each)) for each in zip(*cpu, strict=True))
    return Speed(tuple(found), times, (bare_ms, loop_ms), peak_memory_mb(), live)


@dataclass(frozen=True, slots=True)
class _Ran:
    frames: int
    took_s: float
    cpu_s: float
    finding_s: float = 0.0

    @property
    def fps(self) -> float:
        return self.frames / self.took_s

    @property
    def cpu_ms(self) -> float:
        return 1000.0 * self.cpu_s / self.frames


def run_bare(clip: Path) -> _Ran:
    """Read the clip and find every pose."""
    source, model = ClipSource(clip), MediapipePose(THREADS)
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
    return _Ran(frames, took_s, cpu_s, finding_s)


def run_loop_once(clip: Path, out: Path, times: StageTimes) -> _Ran:
    """Run a whole session on the clip as fast as it goes, painted and recorded.

    Raises:
        KeyboardInterrupt: It was ended from outside.
    """
    watched: list[_Watched] = []

    def make(clock: Clock) -> Feed:
        source = _TimedSource(ClipSource(clip), times.time)
        model = RenewingModel(lambda: _TimedModel(MediapipePose(THREADS), times.time), clock)
        watched.append(_Watched(AheadFeed(source, model, cast(StreamClock, clock))))
        return watched[0]

    _perform(make, out, fast=True, timer=times.time)
    return watched[0].ran()


def run_live(clip: Path, out: Path) -> dict[str, Any]:
    """Run a whole session on the clip in real time, painted and recorded, without a sound.

    Returns:
        Frames and delays as the session tells them; a cue's is that of a silent device with the
        usual 40 ms.
    """

    def make(clock: Clock) -> Feed:
        return ThreadedFeed(ClipSource(clip), RenewingModel(MediapipePose, clock))

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
        "worked_fps": round((frames["captured"] - frames["dropped"]) / CLIP_S, 1),
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

    def ran(self) -> _Ran:
        assert self._begun is not None
        assert self._ended is not None
        took_s, cpu_s = (b - a for a, b in zip(self._begun, self._ended, strict=True))
        return _Ran(self.captured, took_s, cpu_s)


def peak_memory_mb() -> float | None:
    """Return the most memory that this process has held so far; None where nobody tells."""
    try:
        import resource
    except ImportError:  # Windows
        return None
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most / 1024.0 if sys.platform != "darwin" else most / 2**20


def speed_lines(speed: Speed) -> Iterator[str]:
    """Yield what was found, for a person."""
    ratio = " ".join(f"{pair.ratio:.2f}" for pair in speed.pairs)
    best = float(np.median([pair.bare_fps for pair in speed.pairs]))
    yield (
        f"the whole loop runs at {speed.ratio:.2f} of the pose model's rate alone "
        f"({GOAL:g} asked; pairs: {ratio}; the model alone: {best:.0f} pictures a second)"
    )
    for name, taken in speed.stages.taken_s.items():
        told = spread_ms(taken)
        yield f"  {name}: {told['median']:.1f} ms, 95 % within {told['p95']:.1f} ms"
    live = speed.live
    yield (
        f"in real time at {FPS:g} pictures a second {100.0 * live['dropped_share']:.1f} % were "
        "left out"
    )
    for key, one in live["latency_ms"].items():
        if one is not None:
            words = key.replace("_", " ")
            yield f"  {words}: {one['median']:.0f} ms, 95 % within {one['p95']:.0f} ms"
