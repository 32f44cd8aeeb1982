"""How fast the whole station is beside its pose model alone, on the same clip and threads.

All are run in turns, so that what else the machine does bears on all. The rate asked for is a share
of the package's own model's; beside it stands the share of what is left to the model alone where it
is run in the station's way, which is faster.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from station.commands.bench_clip import FPS, HEIGHT, WIDTH, draw_clip
from station.commands.bench_quiet import MOST_SHARE, OthersWatch
from station.commands.bench_runs import THREADS, Ran, run_alone, run_bare, run_live, run_loop_once
from station.live.stages import StageTimes

GOAL = 0.85
"""Asked of the whole loop, as a share of the pose model's rate."""
KINDS = ("bare", "alone", "loop")
"""The package's pose model, the model as the station runs it, the whole loop."""
CLIP_S = 10.0


@dataclass(frozen=True, slots=True)
class Pair:
    """One run of each, one right after the other; frames a second."""

    bare_fps: float
    """The clip read and every pose found by the package's model as it comes, nothing else."""
    model_fps: float
    """The same without the reading: as though pictures came by themselves."""
    alone_fps: float
    """The clip read and every pose found as the station does it, nothing else."""
    loop_fps: float

    @property
    def ratio(self) -> float:
        """The whole loop's rate as a share of the model's on the same clip."""
        return self.loop_fps / self.bare_fps

    @property
    def own_ratio(self) -> float:
        """The same of the rate that the station's way of running the model would allow."""
        return self.loop_fps / self.alone_fps


@dataclass(frozen=True, slots=True)
class Speed:
    """What came of all runs."""

    pairs: tuple[Pair, ...]
    stages: StageTimes
    """Of all whole loops together."""
    cpu_ms: tuple[float, float, float]
    """Processor time of a frame, of each of `KINDS`; medians of the runs."""
    memory_mb: float | None
    """Most that this process has held so far; None: not known on this system."""
    live: dict[str, Any]
    """The same clip in real time."""
    others_share: float | None = None
    """What share of the processor others had meanwhile; None: not known on this system."""

    @property
    def disturbed(self) -> bool:
        """Whether something else ran: two threads that wait for each other suffer most from it."""
        return self.others_share is not None and self.others_share > MOST_SHARE

    @property
    def ratio(self) -> float:
        """Median of the pairs' ratios."""
        return float(np.median([pair.ratio for pair in self.pairs]))

    @property
    def own_ratio(self) -> float:
        """Median of the pairs' shares of what the model alone does in the station's way."""
        return float(np.median([pair.own_ratio for pair in self.pairs]))

    def as_dict(self) -> dict[str, Any]:
        """Return it for JSON."""
        return {
            "clip": {"width": WIDTH, "height": HEIGHT, "fps": FPS, "seconds": CLIP_S},
            "threads": THREADS,
            "pairs": [
                {
                    "bare_fps": round(pair.bare_fps, 2),
                    "model_fps": round(pair.model_fps, 2),
                    "alone_fps": round(pair.alone_fps, 2),
                    "loop_fps": round(pair.loop_fps, 2),
                    "ratio": round(pair.ratio, 4),
                    "own_ratio": round(pair.own_ratio, 4),
                }
                for pair in self.pairs
            ],
            "ratio": round(self.ratio, 4),
            "ratio_asked": GOAL,
            "own_ratio": round(self.own_ratio, 4),
            "holds": None if self.disturbed else self.ratio >= GOAL,
            "others_share": None if self.others_share is None else round(self.others_share, 3),
            "stages_ms": {name: spread_ms(taken) for name, taken in self.stages.taken_s.items()},
            "cpu_ms_per_frame": dict(zip(KINDS, (round(ms, 2) for ms in self.cpu_ms), strict=True)),
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
    others = OthersWatch()
    found: list[Pair] = []
    cpu: list[tuple[float, float, float]] = []
    with tempfile.TemporaryDirectory(prefix="station-bench-") as name:
        folder, clip = Path(name), Path(name) / "clip.mp4"
        draw_clip(clip, CLIP_S)
        all_of = runs_of(pairs)
        for number in range(pairs):
            runs: dict[str, Ran] = {}
            # By turns first: a machine that warms up or slows down favours neither.
            for place, kind in enumerate(KINDS[:: 1 if number % 2 == 0 else -1]):
                if kind == "loop":
                    runs[kind] = run_loop_once(clip, folder / f"loop{number}", times)
                else:
                    runs[kind] = run_bare(clip) if kind == "bare" else run_alone(clip)
                tell(len(KINDS) * number + place + 1, all_of)
            bare, alone, loop = (runs[kind] for kind in KINDS)
            found.append(Pair(bare.fps, bare.frames / bare.finding_s, alone.fps, loop.fps))
            cpu.append((bare.cpu_ms, alone.cpu_ms, loop.cpu_ms))
        live = run_live(clip, CLIP_S, folder / "live")
        tell(all_of, all_of)
    bare_ms, alone_ms, loop_ms = (float(np.median(each)) for each in zip(*cpu, strict=True))
    return Speed(
        tuple(found),
        times,
        (bare_ms, alone_ms, loop_ms),
        peak_memory_mb(),
        live,
        others.share(),
    )


def runs_of(pairs: int) -> int:
    """Return of how many runs that many pairs are made, the one in real time included."""
    return len(KINDS) * pairs + 1


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
    if speed.disturbed:
        yield (
            f"other programs had {100.0 * (speed.others_share or 0.0):.0f} % of the processor "
            "meanwhile: what follows is no measure of this machine; close them and measure again"
        )
    ratio = " ".join(f"{pair.ratio:.2f}" for pair in speed.pairs)
    best = float(np.median([pair.bare_fps for pair in speed.pairs]))
    yield (
        f"the whole loop runs at {speed.ratio:.2f} of the pose model's rate alone "
        f"({GOAL:g} asked; pairs: {ratio}; the model alone: {best:.0f} pictures a second)"
    )
    own = float(np.median([pair.alone_fps for pair in speed.pairs]))
    yield (
        f"the station runs the model in a way of its own: alone it would find {own:.0f} poses a "
        f"second, of which the whole loop leaves {speed.own_ratio:.2f}; for that no goal is set"
    )
    yield "each picture takes (much of it at the same time as another's):"
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
