"""`station report`, through the command line."""

from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path

import pytest
from report_rows import ON, drill_told, steps_of, write_folder

from station.commands.main import main
from station.keep.store import Place, VisitStart, begin_visit, make_place
from station.keep.store.moments import utc_now


@pytest.fixture(autouse=True)
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Keep the records of this test apart from everybody's."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.chdir(tmp_path)
    return tmp_path / "data" / "landing-station"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    drills = [drill_told("Beat", 0.0, 45.0, channels=ON)]
    return write_folder(tmp_path / "s", steps_of("Beat", 60), drills)


def put(place: Place, days: int = 0) -> None:
    start = VisitStart(
        f"{days:032x}", "R07", "Bay 1", "Easy", "camera", utc_now() - timedelta(days)
    )
    visit = begin_visit(place, start)
    for row in steps_of("Beat", 40):
        visit.write(row)
    visit.drill(0, drill_told("Beat", 0.0, 20.0, channels=ON))
    assert visit.end("plan done") is None


def test_a_folder_s_report_is_one_file_for_its_owner_and_replaces_itself_alone(
    folder: Path, data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["report", str(folder)]) == 0
    page = folder / "report.html"
    assert capsys.readouterr().out.strip() == str(page)
    text = page.read_text(encoding="utf-8")
    assert page.stat().st_mode & 0o077 == 0
    assert not data.exists()  # a report makes no records
    for outside in ("http://", "https://", "<script", "<link", "url(//", "@import"):
        assert outside not in text.replace('"http://www.w3.org', "")
    assert "<svg" in text
    assert main(["report", str(folder)]) == 0  # again: its own page is replaced
    mine = folder / "mine.html"
    mine.write_text("my own page")
    assert main(["report", str(folder), "--out", str(mine)]) == 2
    assert mine.read_text() == "my own page"


def test_a_visit_on_record(data: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    place = make_place(str(data))
    put(place)
    put(place, days=2)
    assert main(["report", "--runner", "R07", "--language", "de", "--out", "a.html"]) == 0
    assert 'lang="de"' in (tmp_path / "a.html").read_text(encoding="utf-8")
    capsys.readouterr()
    assert main(["report", "--runner", "R07", "--visit", "1999"]) == 2
    told = capsys.readouterr().err
    assert "R07 has no such visit; allowed: 20" in told
    assert main(["report", "--runner", "R07", "--visit", "20"]) == 2
    assert "2 visits fit; name one of them" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["report"], "one of them"),
        (["report", "s", "--runner", "R07"], "one of them"),
        (["report", "nowhere"], "no such folder"),
        (["report", "."], "holds no session.json"),
        (["report", "s", "--visit", "2026"], "allowed with --runner"),
        (["report", "s", "--kind", "progress"], "allowed with --runner"),
        (["report", "--runner", "R07", "--kind", "progress", "--visit", "x"], "all that fit"),
        (["report", "--runner", "Anna"], "a code, not a name"),
        (["report", "--runner", "R07"], "no records are there"),
        (["report", "s", "--language", "xx"], "allowed: de, en"),
        (["report", "s", "--out", "."], "this is a folder"),
    ],
)
def test_mistakes_are_told(
    folder: Path, arguments: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(arguments) == 2
    shown = capsys.readouterr().err
    assert told in shown
    assert "Traceback" not in shown


@pytest.mark.parametrize(
    ("name", "text", "told"),
    [
        ("session.json", "{", "is no JSON text"),
        ("session.json", "[]", "is no session's file"),
        ("steps.csv", "a,b\n1,2\n", "has no column step, drill"),
        ("steps.csv", "", "has no column step, drill"),
    ],
)
def test_a_broken_file_is_told(
    folder: Path, name: str, text: str, told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder / name).write_text(text)
    assert main(["report", str(folder)]) == 2
    assert told in capsys.readouterr().err


def test_a_broken_row_is_told(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    lines = (folder / "steps.csv").read_text().splitlines()
    head = lines[0].split(",")
    cells = lines[3].split(",")
    cells[head.index("shank_deg")] = "far"
    (folder / "steps.csv").write_text("\n".join([*lines[:3], ",".join(cells), *lines[4:]]) + "\n")
    assert main(["report", str(folder)]) == 2
    assert "line 4, shank_deg = 'far'; allowed: a number" in capsys.readouterr().err
    told = json.loads((folder / "session.json").read_text())
    assert told["runner"] == "R07"
