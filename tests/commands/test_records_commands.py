"""The commands on the records, through the command line."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from station.commands.main import main
from station.keep.store import Records, Wanted, make_place


@pytest.fixture(autouse=True)
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Keep the records of this test apart from everybody's."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.chdir(tmp_path)
    return tmp_path / "data" / "landing-station"


@pytest.fixture
def beginning(shared_data: Path, tmp_path: Path) -> str:
    """Return a real runner's trace, cut off after 8 s."""
    whole = (shared_data / "treadmill_running" / "trace.csv").read_text().splitlines()
    trace = tmp_path / "beginning.csv"
    trace.write_text("\n".join(whole[: 1 + 8 * 60]) + "\n")
    return str(trace)


@pytest.fixture
def replayed(beginning: str, tmp_path: Path) -> Callable[[str], Path]:
    def replay(code: str) -> Path:
        out = tmp_path / f"out-{code}"
        arguments = ["replay", beginning, "--belt-speed", "2.5 m/s", "--runner", code]
        assert main([*arguments, "--out", str(out)]) == 0
        return out

    return replay


@pytest.mark.timeout(120)
def test_a_replay_is_put_on_record_listed_exported_and_forgotten(
    replayed: Callable[[str], Path], data: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = replayed("R07")
    session = json.loads((out / "session.json").read_text())
    assert session["steps"] >= 15
    assert out.stat().st_mode & 0o077 == 0
    assert all(path.stat().st_mode & 0o077 == 0 for path in out.iterdir())
    with Records(make_place(str(data))) as records:
        (line,) = records.visits(Wanted())
        runner = records.runner("R07")
    assert (line.steps, line.why, line.source) == (session["steps"], session["ended"], "trace")
    assert Path(line.folder or "") == out
    assert runner is not None
    assert len(runner.baselines) == len(session["baselines"])
    capsys.readouterr()
    assert main(["visits", "--runner", "R07"]) == 0
    assert "1 of 1 visits" in capsys.readouterr().out
    assert main(["export", "R07", "--out", str(tmp_path / "ex")]) == 0
    told = (tmp_path / "ex" / "steps.csv").read_text().splitlines()
    assert [row.split(",", 2)[2] for row in told] == (out / "steps.csv").read_text().splitlines()
    events = (tmp_path / "ex" / "events.csv").read_text().splitlines()
    assert len(events) - 1 == len(session["events"])
    assert main(["forget", "R07"]) == 2
    assert "--yes" in capsys.readouterr().err
    assert main(["forget", "R07", "--yes"]) == 0
    shown = capsys.readouterr().out
    assert str(out / "steps.csv") in shown.replace("\n", "")
    assert not out.exists()
    assert not any(b"R07" in path.read_bytes() for path in data.rglob("*") if path.is_file())


def test_without_a_runner_nothing_is_put_on_record(
    beginning: str, tmp_path: Path, data: Path
) -> None:
    arguments = ["replay", beginning, "--belt-speed", "2.5 m/s", "--out", str(tmp_path / "out")]
    assert main(arguments) == 0
    assert not data.exists()


def test_caps_and_consent(capsys: pytest.CaptureFixture[str], data: Path) -> None:
    assert main(["runners", "R07", "--belt-cap", "12 km/h", "--hops-cap", "40"]) == 0
    assert main(["runners", "R07", "--film", "yes"]) == 0
    with Records(make_place(str(data))) as records:
        runner = records.runner("R07")
        assert runner is not None
        assert runner.belt_cap_mps == pytest.approx(12 / 3.6)
        assert (runner.hops_cap, runner.video) == (40, True)
    assert main(["runners", "R07", "--belt-cap", "none", "--film", "no"]) == 0
    assert "no cap" in capsys.readouterr().out
    with Records(make_place(str(data))) as records:
        runner = records.runner("R07")
    assert runner is not None
    assert (runner.belt_cap_mps, runner.hops_cap, runner.video) == (None, 40, False)


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["runners", "Anna"], "a code, not a name"),
        (["runners", "R1"], "no runner of this code"),
        (["runners", "--film", "yes"], "name the code"),
        (["runners", "R1", "--belt-cap", "fast"], "--belt-cap"),
        (["runners", "R1", "--belt-cap", "90 km/h"], "no treadmill's speed"),
        (["runners", "R1", "--hops-cap", "-1"], "0 to 1000"),
        (["export"], "--all"),
        (["export", "R1", "--all"], "not both"),
        (["export", "R1"], "no runner of this code"),
        (["forget", "R1"], "--yes"),
        (["forget", "R1", "--yes", "--also", "nowhere"], "no such folder"),
        (["visits", "--since", "yesterday"], "2026-11-25"),
        (["visits", "--most", "0"], "1 to 1000000"),
        (["visits", "--records", "nowhere"], "no folder"),
        (["visits", "--records", "mysql://host/x"], "postgresql://"),
        (["visits", "--records", "postgresql://"], "station:"),
    ],
)
def test_mistakes_are_told(
    arguments: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(arguments) in (2, 3)
    shown = capsys.readouterr().err
    assert told in shown
    assert "Traceback" not in shown


@pytest.mark.parametrize(
    ("video", "consent", "runner", "told"),
    [
        ("off", "yes", "R07", "this bay allows none"),
        ("on", "no", "R07", "R07 has not allowed it"),
        ("on", None, "R07", "R07 has not allowed it"),
        ("off", None, None, "this bay allows none"),
        ("on", "yes", "R07", "/dev/video99"),
        ("on", None, None, "/dev/video99"),
    ],
)
@pytest.mark.usefixtures("lent_model")
def test_a_film_needs_the_bay_and_the_runner(
    video: str, consent: str | None, runner: str | None, told: str, tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    (tmp_path / "bay.toml").write_text(f'[records]\nfolder = "records"\nvideo = "{video}"\n')
    if consent is not None:
        assert main(["runners", "R07", "--film", consent, "--records", "bay.toml"]) == 0
    capsys.readouterr()
    arguments = ["run", "--source", "/dev/video99", "--headless", "--mute", "--video"]
    arguments += ["--bay", "bay.toml", *(["--runner", runner] if runner else [])]
    assert main(arguments) in (2, 3)
    assert told in capsys.readouterr().err
