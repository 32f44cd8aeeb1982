"""Many recordings: found, done once, gone on with, and none stops the rest."""

from __future__ import annotations

import asyncio
import csv
import json
import os
import signal
import sys
import threading
from collections.abc import Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path
from types import SimpleNamespace

import pytest

from station.batch import work
from station.batch.engine import Workers, workers
from station.batch.recordings import Recording, find_recordings
from station.batch.table import NOT_YET
from station.batch.work import MARK_FILE, Job, Outcome, analyse, is_done, job_of
from station.commands.main import main
from station.errors import BadInput, DeviceTrouble

HEAD = "t_s," + ",".join(
    f"{side}_{part}_{axis}"
    for side in ("left", "right")
    for part in ("knee", "ankle", "heel", "foot_index")
    for axis in ("x", "y")
)


def touch(path: Path, text: str = "") -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


def recording(path: Path, name: str = "a.csv") -> Recording:
    return Recording(path, name, clip=False)


def test_clips_and_traces_are_found_and_nothing_else(tmp_path: Path) -> None:
    touch(tmp_path / "b.MP4")
    touch(tmp_path / "deep" / "a.csv", HEAD + "\n")
    touch(tmp_path / "deep" / "a.plan.toml")
    touch(tmp_path / "contacts.csv", "t_contact_s,side\n")
    touch(tmp_path / "notes.txt", HEAD)
    touch(tmp_path / ".hidden.csv", HEAD)
    touch(tmp_path / ".kept" / "c.csv", HEAD)
    touch(tmp_path / "results" / "b.MP4" / "trace.csv", HEAD)
    found = find_recordings(tmp_path, tmp_path / "results")
    names = [(one.name, one.clip) for one in found.recordings]
    assert names == [("b.MP4", True), ("deep/a.csv", False)]
    assert found.recordings[1].plan == tmp_path / "deep" / "a.plan.toml"
    assert found.other_tables == ("contacts.csv",)


@pytest.mark.parametrize("there", [True, False])
def test_a_folder_without_recordings_is_told(tmp_path: Path, there: bool) -> None:
    folder = tmp_path if there else tmp_path / "nowhere"
    with pytest.raises(BadInput, match=r"\.mp4"):
        find_recordings(folder, tmp_path / "out")


def test_a_trace_is_replayed_and_a_clip_is_run(tmp_path: Path) -> None:
    path = touch(tmp_path / "x.csv")
    bay, speed = ("--bay", "bay.toml"), ("--belt-speed", "6 mph")
    trace = job_of(recording(path), tmp_path / "out", bay, speed)
    assert trace.words == ("replay", str(path), *bay, *speed)
    clip = job_of(Recording(path, "x", clip=True), tmp_path / "out", (), speed)
    assert clip.words[:5] == ("run", "--source", str(path), "--fast", "--headless")
    own = touch(tmp_path / "x.plan.toml")
    planned = job_of(Recording(path, "x", False, own), tmp_path, (), speed)
    assert planned.words == ("replay", str(path), "--plan", str(own))


def test_a_job_is_another_when_recording_or_options_change(tmp_path: Path) -> None:
    path = touch(tmp_path / "x.csv", "1")
    bay = touch(tmp_path / "bay.toml", "1")

    def made_of(*options: str) -> str:
        return job_of(recording(path), tmp_path, options, ()).made_of

    first = made_of("--bay", str(bay))
    assert made_of("--bay", str(bay)) == first
    assert made_of() != first
    touch(bay, "12")
    second = made_of("--bay", str(bay))
    assert second != first
    touch(path, "12")
    assert made_of("--bay", str(bay)) != second


def outcome_of(job: Job) -> Outcome:
    if job.name == "lost":
        raise ConnectionError("the worker is gone")
    return Outcome(job.name, 2 if job.name == "bad" else 0)


def test_a_worker_that_is_lost_does_not_stop_the_rest() -> None:
    jobs = [Job(name, (), "", "") for name in ("a", "lost", "bad", "b")]
    with ThreadPoolExecutor(2) as pool:
        found = {one.name: one for one in Workers(pool, outcome_of).do_all(jobs)}
    assert {name: one.exit_code for name, one in found.items()} == {
        "a": 0, "lost": 1, "bad": 2, "b": 0,
    }  # fmt: skip
    assert "the worker is gone" in found["lost"].message


def job(tmp_path: Path, *words: str) -> Job:
    return Job("x", words, str(tmp_path / "out" / "x"), "made of this")


def test_a_process_that_is_killed_is_told_with_its_signal(tmp_path: Path) -> None:
    killed = analyse(job(tmp_path, "--help"), lambda process: process.kill())
    assert killed.exit_code == -signal.SIGKILL
    assert "signal 9" in killed.message
    assert os.listdir(tmp_path / "out") == []


def test_when_the_batch_ends_nothing_goes_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Ctrl-C: the process that runs is killed, its half results go, the next never begins."""
    begun = threading.Event()
    spoken: list[Outcome] = []
    waits = ["-c", "import sys; sys.stdin = open(0); import time; time.sleep(600)"]
    ran = work.subprocess.Popen

    def stalled(_words: list[str], **how: object) -> object:
        process = ran([work.sys.executable, *waits], **how)  # type: ignore[call-overload]
        begun.set()
        return process

    monkeypatch.setattr(work.subprocess, "Popen", stalled)

    def broken_off() -> None:
        with workers(1, None) as hands:
            for _ in range(2):
                futures.append(hands.pool.submit(lambda: spoken.append(hands.work(job(tmp_path)))))
            assert begun.wait(30)
            raise KeyboardInterrupt

    futures: list[Future[None]] = []
    with pytest.raises(KeyboardInterrupt):
        broken_off()
    assert [one.exit_code for one in spoken] == [-signal.SIGKILL]
    assert futures[1].cancelled()
    assert os.listdir(tmp_path / "out") == []


def test_without_dask_a_scheduler_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with (
        pytest.raises(BadInput, match=r"constraints.txt '\.\[cluster\]'"),
        workers(1, "tcp://127.0.0.1:8786"),
    ):
        pass


def test_a_batch_from_start_to_end(
    tmp_path: Path, shared_data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One good trace, one bad: real processes; then again, and only the bad one is tried."""
    lines = (shared_data / "treadmill_running" / "trace.csv").read_text("utf-8").splitlines()
    folder, out = tmp_path / "in", tmp_path / "out"
    touch(folder / "good.csv", "\n".join(lines[:300]))
    touch(folder / "bad.csv", "\n".join([*lines[:2], "1,2,x"]))
    words = ["batch", str(folder), "--out", str(out), "--belt-speed", "2.5 m/s", "--jobs", "2"]
    assert main(words) == 2
    said = capsys.readouterr().out
    assert "not analysed: bad.csv" in said
    assert "2 recordings found. Results in" in said
    assert "1 of 2 recordings analysed, 1 not" in said
    with (out / "batch.csv").open(encoding="utf-8") as file:
        bad, good = csv.DictReader(file)
    assert (bad["exit_code"], bad["steps"]) == ("2", "")
    steps = len((out / "good.csv" / "steps.csv").read_text("utf-8").splitlines()) - 1
    assert int(good["steps"]) == steps > 5
    made = (out / "good.csv" / MARK_FILE).stat().st_mtime_ns
    (folder / "bad.csv").unlink()
    assert main(words) == 0
    assert "(1 in an earlier batch)" in capsys.readouterr().out
    assert (out / "good.csv" / MARK_FILE).stat().st_mtime_ns == made


def test_a_batch_that_is_broken_off_says_what_is_left(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Ctrl-C after the first of three, which failed; a table that is no trace lies beside them."""
    for name in ("a.csv", "b.csv", "c.csv"):
        touch(tmp_path / name, HEAD)
    touch(tmp_path / "contacts.csv", "t_contact_s,side\n")

    def broken_off(self: Workers, jobs: Sequence[Job]) -> Iterator[Outcome]:
        yield Outcome(jobs[0].name, 2, "nothing usable")
        raise KeyboardInterrupt

    monkeypatch.setattr(Workers, "do_all", broken_off)
    assert main(["batch", str(tmp_path), "--belt-speed", "6 mph"]) == 2
    said = capsys.readouterr().out
    assert "passed over: contacts.csv: no trace, since the first line does not name t_s," in said
    assert "not analysed: a.csv: nothing usable" in said
    assert "broken off: 0 of 3 recordings analysed, 1 not, 2 not yet: the same command" in said
    with (tmp_path / "results" / "batch.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [(row["recording"], row["exit_code"], row["message"]) for row in rows] == [
        ("a.csv", "2", "nothing usable"),
        ("b.csv", "", NOT_YET),
        ("c.csv", "", NOT_YET),
    ]


def test_a_scheduler_without_workers_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    closed: list[bool] = []

    class Client:
        def __init__(self, address: str, timeout: int) -> None:
            if ":" not in address:
                raise ValueError("missing port number")

        def wait_for_workers(self, count: int, timeout: int) -> None:
            raise asyncio.TimeoutError

        def close(self) -> None:
            closed.append(True)

    monkeypatch.setitem(sys.modules, "distributed", SimpleNamespace(Client=Client))
    with pytest.raises(DeviceTrouble, match="no worker is connected"), workers(1, "tcp://h:8786"):
        pass
    assert closed == [True]
    with pytest.raises(BadInput, match="this is no address"), workers(1, "foo"):
        pass


def test_results_of_somebody_else_are_never_replaced(tmp_path: Path) -> None:
    one = job(tmp_path, "replay")
    there = Path(one.folder)
    touch(there / "session.json", "{}")
    assert not is_done(one)
    touch(there / MARK_FILE, json.dumps({"made_of": "something else"}))
    assert not is_done(one)
    touch(there / MARK_FILE, "not json")
    assert not is_done(one)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--jobs", "0"], "1 to 256"),
        (["--jobs", "2", "--scheduler", "tcp://127.0.0.1:1"], "--jobs is for work done here"),
        (["--belt-speed", "fast"], "--belt-speed"),
    ],
)
def test_bad_options(
    tmp_path: Path, words: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    touch(tmp_path / "a.csv", HEAD)
    assert main(["batch", str(tmp_path), *words]) == 2
    assert told in capsys.readouterr().err
    assert not (tmp_path / "results").exists()
