from __future__ import annotations

from collections import namedtuple
from pathlib import Path

import pytest

from station.commands.checks import place
from station.commands.checks.finding import Finding
from station.commands.checks.place import disk_findings, screen_findings
from station.errors import DeviceTrouble
from station.values import Bay

Usage = namedtuple("Usage", "total used free")


def disk(bay: Bay) -> dict[str, Finding]:
    return {finding.what: finding for finding in disk_findings(bay)}


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    return tmp_path


def test_both_folders_are_told_and_none_is_made(here: Path) -> None:
    found = disk(Bay())
    assert {finding.verdict for finding in found.values()} <= {"well", "look"}
    assert f"{here}/landing-station (will be made)" in found["disk, records"].found
    assert found["disk, sessions"].found.startswith("out (will be made)")
    assert list(here.iterdir()) == []


@pytest.mark.parametrize(
    ("free", "verdict", "code"), [(5e9, "well", 0), (1e9, "look", 0), (1e8, "fault", 3)]
)
def test_room(
    here: Path, monkeypatch: pytest.MonkeyPatch, free: float, verdict: str, code: int
) -> None:
    usage = Usage(1e11, 1e11 - free, int(free))
    monkeypatch.setattr("shutil.disk_usage", lambda _: usage)
    finding = disk(Bay())["disk, records"]
    assert (finding.verdict, finding.exit_code) == (verdict, code)


def test_a_folder_that_cannot_be_written_is_the_profiles_mistake(here: Path) -> None:
    (here / "file").write_text("")
    finding = disk(Bay(records_folder=str(here / "file" / "records")))["disk, records"]
    assert (finding.verdict, finding.exit_code) == ("fault", 2)
    assert "[records]" in finding.remedy


def screen(monkeypatch: pytest.MonkeyPatch, size: tuple[int, int], **bay: float) -> Finding:
    monkeypatch.setattr(place, "desktop_size", lambda: size)
    (finding,) = screen_findings(Bay(**bay))  # type: ignore[arg-type]
    return finding


def test_screens(monkeypatch: pytest.MonkeyPatch) -> None:
    assert screen(monkeypatch, (1024, 768)).verdict == "look"
    unknown = screen(monkeypatch, (1920, 1080))
    assert unknown.verdict == "well"
    assert "diagonal_m" in unknown.remedy
    near = screen(monkeypatch, (1920, 1080), screen_diagonal_m=0.8, viewing_distance_m=2.5)
    assert (near.verdict, near.remedy) == ("well", "")
    far = screen(monkeypatch, (1920, 1080), screen_diagonal_m=0.5, viewing_distance_m=4.0)
    assert far.verdict == "look"
    assert "too small" in far.found


def test_no_display_is_a_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    def none() -> tuple[int, int]:
        raise DeviceTrouble("no display")

    monkeypatch.setattr(place, "desktop_size", none)
    (finding,) = screen_findings(Bay())
    assert (finding.verdict, finding.exit_code) == ("fault", 3)
    assert "--headless" in finding.remedy
