"""Prove that `station batch` uses both cores, goes on after a kill, and is the same under Dask.

Traces of simulated runners are written, all different, and analysed by whole commands: by one
process and by two, in turns; then once more, with the batch killed half way and called again; then
by the workers of a Dask cluster on this machine.

    python tests/proofs/batch.py [--traces 40] [--seconds 10] [--pairs 1]

Prints one JSON line; exits 1 where two processes are not at least 1.7 times as fast as one, or a
result differs, 3 where Dask is not installed.
"""

from __future__ import annotations

import station  # noqa: F401

# isort: split

import os
import signal
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from kit.extra import LibraryMissing
from kit.running import options, tell

from station.batch.work import MARK_FILE
from station.bench.cells import mixed_cells
from station.bench.pushing import spoil
from station.bench.simulated import PX_PER_M
from station.see.trace import TraceWriter
from station.simulate.gait import Runner
from station.simulate.trace import frame_times, poses, side_view

LEAST_GAIN = 1.7


def results() -> Iterator[dict[str, object]]:
    """Run the proof."""
    asked = options("Many recordings.", traces=40.0, seconds=10.0, pairs=1.0)
    try:
        import distributed  # noqa: F401
    except ImportError:
        raise LibraryMissing("Dask is not installed: pip install distributed") from None
    with tempfile.TemporaryDirectory() as name:
        yield prove(Path(name), int(asked.traces), asked.seconds, int(asked.pairs))


def prove(root: Path, traces: int, seconds: float, pairs: int) -> dict[str, object]:
    """Write the traces, analyse them in every way and compare."""
    folder = root / "in"
    folder.mkdir()
    write_traces(folder, traces, seconds)
    one_s, two_s = [], []
    for pair in range(pairs):
        one_s.append(timed(folder, root / f"one{pair}", "--jobs", "1"))
        two_s.append(timed(folder, root / f"two{pair}", "--jobs", "2"))
    gain = statistics.median(one / two for one, two in zip(one_s, two_s, strict=True))
    kept = killed_half_way(folder, root / "killed", traces)
    dask_s = under_dask(folder, root / "dask")
    whole = tables(root / "one0")
    same = {name: tables(root / name) == whole for name in ("two0", "killed", "dask")}
    return {
        "proof": "batch",
        "holds": gain >= LEAST_GAIN and len(whole) == traces and all(same.values()) and kept > 0,
        "traces": traces,
        "seconds_each": seconds,
        "one_process_s": [round(s, 1) for s in one_s],
        "two_processes_s": [round(s, 1) for s in two_s],
        "gain": round(gain, 2),
        "done_before_the_kill": kept,
        "same_steps": same,
        "dask_s": round(dask_s, 1),
        "cores": os.cpu_count(),
    }


def write_traces(folder: Path, count: int, seconds: float) -> None:
    """Write as many traces as there are different runners."""
    for place, cell in enumerate(mixed_cells(count)):
        runner = Runner(cell.way)
        view = side_view(cell.way, cell.faces, PX_PER_M, roll_deg=cell.roll_deg)
        writer = TraceWriter(folder / f"t{place:02d}.csv")
        for pose in spoil(poses(runner, view, frame_times(60.0, seconds)), PX_PER_M, cell.seed):
            writer.write(pose)
        writer.close()


def command(folder: Path, out: Path, *words: str) -> list[str]:
    """Return the batch's command."""
    base = [sys.executable, "-m", "station", "batch", str(folder), "--out", str(out)]
    return [*base, "--belt-speed", "10 km/h", *words]


def timed(folder: Path, out: Path, *words: str) -> float:
    """Run a batch and return how long it took, seconds."""
    begun_s = time.monotonic()
    subprocess.run(command(folder, out, *words), check=False, capture_output=True)
    return time.monotonic() - begun_s


def killed_half_way(folder: Path, out: Path, traces: int) -> int:
    """Kill a batch when half is done, call it again, and return how many were not done again."""
    process = subprocess.Popen(
        command(folder, out), stderr=subprocess.DEVNULL, stdout=subprocess.DEVNULL
    )
    while len(list(out.rglob(MARK_FILE))) < traces // 2 and process.poll() is None:
        time.sleep(0.1)
    process.send_signal(signal.SIGKILL)
    process.wait()
    time.sleep(5.0)  # what the killed batch had begun goes on by itself until it is done
    before = {path: path.stat().st_mtime_ns for path in out.rglob(MARK_FILE)}
    subprocess.run(command(folder, out), check=False, capture_output=True)
    return sum(path.stat().st_mtime_ns == when for path, when in before.items())


def under_dask(folder: Path, out: Path) -> float:
    """Run the batch on a cluster of this machine and return how long it took, seconds."""
    from distributed import LocalCluster

    with LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster:
        return timed(folder, out, "--scheduler", cluster.scheduler_address)


def tables(out: Path) -> dict[str, bytes]:
    """Return every steps.csv of a batch, by recording."""
    return {path.parent.name: path.read_bytes() for path in sorted(out.rglob("steps.csv"))}


if __name__ == "__main__":
    sys.exit(tell("batch", results()))
