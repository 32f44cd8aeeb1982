"""`station bay`: what it refuses, and who is known."""

from __future__ import annotations

from pathlib import Path

import pytest

from station.commands.bay_visits import StoreBook
from station.commands.main import main
from station.commands.rules import feedback_rule
from station.keep import make_place
from station.keep.store import Records
from station.settings.smallest_change import smallest_sizes
from station.values import Bay


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def refused(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    assert main(["bay", *arguments]) == 2
    said = capsys.readouterr().err
    assert "Traceback" not in said
    return said


def test_without_a_staff_code_nobody_could_end_a_call(here, capsys):
    (here / "bay.toml").write_text("[visit]\n")
    assert "staff_code is missing" in refused(capsys, "--bay", "bay.toml", "--plan", "retention")


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ('[visit]\nstaff_code = "12"\n', "4 to 8 digits"),
        ("[visit]\nstaff_code = 2468\n", "staff_code"),
        ("[view]\nbelt_rear = [1]\nwidth = 1280\nheight = 720\n", "one point in pixels"),
        ("[view]\nbelt_rear = [152, 640]\n", "width and height missing"),
    ],
)
def test_a_bay_with_mistakes_says_what_is_allowed(here, capsys, text, part):
    (here / "bay.toml").write_text(text)
    assert part in refused(capsys, "--bay", "bay.toml", "--plan", "retention")


def test_a_plan_over_the_bays_limit_is_refused(here, capsys):
    (here / "bay.toml").write_text('[visit]\nstaff_code = "2468"\n[limits]\nbelt_speed = "5 mph"\n')
    said = refused(capsys, "--bay", "bay.toml", "--plan", "same-rate-faster-belt")
    assert "5 mph" in said


def test_a_missing_source_is_told_before_anything_opens(here, capsys):
    (here / "bay.toml").write_text('[visit]\nstaff_code = "2468"\n')
    arguments = ("--bay", "bay.toml", "--plan", "retention", "--source", "none.mp4")
    assert "none.mp4" in refused(capsys, *arguments)


def test_only_a_runner_with_a_cap_is_known(tmp_path):
    place = make_place(str(tmp_path / "records"))
    with Records(place) as records:
        records.change_runner("R-1", belt_cap_mps=3.0, hops_cap=20)
        records.change_runner("R-2")
    book = StoreBook(place, lambda line: None)
    found = book.find("R-1")
    assert found is not None
    assert found.caps.belt_speed_mps == 3.0
    assert found.caps.hops == 20
    assert found.last is None
    assert book.find("R-2") is None
    assert book.find("R-3") is None


def test_records_that_cannot_be_asked_know_nobody_and_say_so(tmp_path):
    (tmp_path / "records").write_text("a file, not a folder")
    said: list[str] = []
    assert StoreBook(make_place(str(tmp_path / "records")), said.append).find("R-1") is None
    assert len(said) == 1
    assert "records" in said[0]


def test_a_bay_s_sessions_tell_of_bounce_from_its_smallest_change_on():
    rule = feedback_rule(Bay(cue_gap_s=1.5))
    assert rule.least_gap_s == 1.5
    smallest_m = smallest_sizes()["vertical_oscillation_m"]
    assert rule.sentence.corrections.posture.bounce_change_m == smallest_m
