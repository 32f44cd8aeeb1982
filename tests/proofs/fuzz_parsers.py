"""Prove by coverage-guided fuzzing that no file makes a reader crash, hang or go on for ever.

Each target runs in a process of its own under atheris (libFuzzer), which changes inputs towards new
branches of the station's own readers: `settings` (plan, bay, scenario), `trace`, `clip` (the film
library itself is not instrumented; what the station makes of its answers is). Each input must be
read to its end or refused with words; one that takes over ten seconds is a hang. What is
found is kept in out/fuzz and named.

    python tests/proofs/fuzz_parsers.py [--seconds 60] [--target all|settings|trace|clip]

Prints one JSON line for each; exits 1 where something was found, 3 without atheris
(python -m pip install -c constraints.txt -e '.[prove]').
"""

from __future__ import annotations

import station  # noqa: F401

# isort: split

import re
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from kit.extra import independent
from kit.running import options, tell

HERE = Path(__file__).parent
FOUND = Path("out/fuzz")
TARGETS = ("settings", "trace", "clip")
HANG_S = 10
LONGEST = {"settings": 4096, "trace": 8192, "clip": 65536}
SUFFIX = {"settings": ".toml", "trace": ".csv", "clip": ".avi"}
READERS = {
    "settings": ["station.settings", "station.units", "station.coach.plan", "tomllib"],
    "trace": ["station.see.trace", "station.see.trace_columns"],
    "clip": ["station.see.clip"],
}


def seeds(target: str, folder: Path) -> None:
    """Write what the fuzzer begins with: files that are well."""
    sys.path.insert(0, str(HERE.parent / "kit"))
    from fuzzed import clip_bytes, trace_bytes

    from station.settings.resources import names, resource

    if target == "settings":
        for name in names("config/plans"):
            (folder / name).write_bytes(resource(f"config/plans/{name}.toml").read_bytes())
        bay = resource("config/bay.toml").read_text(encoding="utf-8")
        (folder / "bay").write_text(re.sub(r"(?m)^# (\w+ = )", r"\1", bay), encoding="utf-8")
        scenario = resource("demo/scenario.toml").read_bytes()
        (folder / "scenario").write_bytes(scenario)
    elif target == "trace":
        (folder / "trace").write_bytes(trace_bytes())
    else:
        for code in ("MJPG", "mp4v"):
            (folder / code).write_bytes(clip_bytes(code)[: LONGEST["clip"]])


def fuzz(target: str, arguments: list[str]) -> None:
    """Fuzz one target in this process; libFuzzer ends it."""
    import atheris

    with atheris.instrument_imports(include=READERS[target]):
        sys.path.insert(0, str(HERE.parent / "kit"))
        import fuzzed
    readers: dict[str, Callable[[Path], object]] = {
        "settings": fuzzed.read_any_settings,
        "trace": fuzzed.read_any_trace,
        "clip": fuzzed.read_any_clip,
    }
    path = Path(tempfile.mkdtemp(prefix="station-fuzz-")) / f"any{SUFFIX[target]}"

    def one(data: bytes) -> None:
        path.write_bytes(data)
        readers[target](path)

    atheris.Setup([sys.argv[0], *arguments], one)
    atheris.Fuzz()


def judged(target: str, seconds: float) -> dict[str, Any]:
    """Fuzz a target for so long and read what came of it."""
    FOUND.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        seeds(target, Path(folder))
        done = subprocess.run(
            [
                sys.executable, __file__, f"--fuzz={target}", folder,
                f"-max_total_time={seconds:.0f}", f"-timeout={HANG_S}", "-print_final_stats=1",
                f"-max_len={LONGEST[target]}", f"-artifact_prefix={FOUND.absolute()}/{target}-",
                "-rss_limit_mb=3000",
            ],
            capture_output=True, text=True, errors="replace", check=False,
            timeout=seconds + 300.0,
        )  # fmt: skip
    said = done.stdout + done.stderr
    runs = re.search(r"number_of_executed_units: (\d+)", said)
    covered = re.findall(r"cov: (\d+)", said)
    kept = re.search(r"Test unit written to (\S+)", said)
    fault = re.search(r"=== Uncaught Python exception: ===\n(.*)", said)
    return {
        "proof": "fuzz_parsers", "target": target, "seconds": seconds,
        "inputs": int(runs[1]) if runs else None,
        "branches": int(covered[-1]) if covered else None,
        "branches_of_seeds": int(covered[0]) if covered else None,
        "found": None if done.returncode == 0 else (fault[1] if fault else said[-400:]),
        "kept": kept[1] if kept else None,
        "holds": done.returncode == 0 and runs is not None and int(runs[1]) > 0,
    }  # fmt: skip


def results(seconds: float, target: str) -> Iterator[dict[str, Any]]:
    independent("atheris")
    for one in TARGETS if target == "all" else (target,):
        yield judged(one, seconds)


def main() -> int:
    args = options(__doc__.splitlines()[0], seconds=60.0, target=("all", *TARGETS))
    return tell("fuzz_parsers", results(args.seconds, args.target))


if __name__ == "__main__":
    if len(sys.argv) > 1 and sys.argv[1].startswith("--fuzz="):
        fuzz(sys.argv[1].removeprefix("--fuzz="), sys.argv[2:])
    else:
        sys.exit(main())
