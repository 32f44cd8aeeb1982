"""What `station plans` shows of plans, and what it says of their mistakes."""

from __future__ import annotations

import pytest
from rich.console import Console

from station.commands import plans as command
from station.commands.main import main
from station.settings.resources import names

REST = '[[drill]]\nname = "R"\nkind = "rest"\nseconds = 5\n'


@pytest.fixture
def at_80_columns(monkeypatch):
    monkeypatch.setattr(command, "OutConsole", lambda: Console(width=80, highlight=False))


@pytest.fixture
def file(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)

    def write(name, text):
        (tmp_path / name).write_text(text, encoding="utf-8")
        return name

    return write


def said(capsys, *arguments, code=0):
    assert main(["plans", *arguments]) == code
    shown = capsys.readouterr()
    assert "Traceback" not in shown.err
    return shown.err if code else shown.out


def test_all_plans_in_short_programmes_apart(capsys, at_80_columns):
    told = said(capsys)
    lines = told.splitlines()
    assert max(map(len, lines)) <= 80
    for name in names("config/plans"):
        (row,) = [line for line in lines if line.startswith(f"{name} ")]
        assert "…" not in row
    (row,) = [line for line in lines if line.startswith("hops-into-running")]
    assert row.split()[-5:] == ["15:29", "8", "72", "own", "-"]
    (row,) = [line for line in lines if line.startswith("lean ")]
    assert row.endswith("partly")
    assert 'Programme "Eight visits", 180 min in all:' in lines
    (row,) = [line for line in lines if line.startswith("programme-8")]
    assert row.split() == ["programme-8", "8", "30:00", "12", "20", "%", "+5", "%", "-"]


@pytest.mark.parametrize("name", names("config/plans"))
def test_a_named_plan_is_shown_in_full(capsys, at_80_columns, name):
    told = said(capsys, name)
    assert told.startswith(f"{name}: ")
    assert "…" not in told
    assert "note:" not in told
    assert max(len(line) for line in told.splitlines()) <= 80


def test_what_is_set_beside_the_table(capsys):
    told = " ".join(said(capsys, "same-rate-faster-belt", "lean", "hops-into-running").split())
    for part in (
        "90 % within of each leg over 120 s, with 40 landings and the last 30 s uncued; "
        "otherwise step back; asks how it felt",
        "facing rearwards; waist belt on; with a coach only",
        "rounds of 8, 4, 3, 2, 1 hops a foot, right foot first",
        "beat, guides and view off",
        "a coach is needed for some drills",
        "36 hops",
    ):
        assert part in told


def test_what_to_look_at_twice_is_a_note_and_no_mistake(capsys, file):
    plan = file(
        "p.toml",
        'name = "P"\n[[drill]]\nname = "Own [1]"\nbelt_speed = "6 mph"\nseconds = 60\n'
        'feedback = "off"\nbeat = "off"\nguides = "off"\n'
        '[[drill]]\nname = "Quick"\nbelt_speed = "6 mph"\nseconds = 60\nstep_rate = "+12 %"\n',
    )
    told = said(capsys, plan)
    notes = [line for line in told.splitlines() if line.startswith("note: ")]
    assert len(notes) == 2
    assert all(note.startswith('note: drill 2 "Quick": step_rate = "+12 %"') for note in notes)
    assert "Own [1]" in told


def test_all_mistakes_of_all_files_and_of_the_bay_at_once(capsys, file):
    bay = file("bay.toml", 'name = "B"\n[limits]\nbelt_speed = "5 mph"\nhops = 10\n')
    fast = file("fast.toml", 'name = "F"\n[[drill]]\nbelt_speed = "6 mph"\nseconds = 5\n')
    hops = file("hops.toml", f'name = "H"\n{REST}[[drill]]\nname = "J"\nkind = "hop"\nhops = [8]\n')
    both = file("both.toml", 'name = "X"\n[[drill]]\nbelt_speed = "7 mph"\nminutes = 5\n')
    told = said(capsys, fast, hops, both, "gone.toml", "nonsuch", "--bay", bay, code=2)
    for part in (
        'fast.toml: plan "F" asks for more belt speed than bay "B" allows',
        'drill 1 "Drill 1": belt_speed = "6 mph"; allowed in "B": up to 5 mph',
        'hops.toml: plan "H" asks for more hops than bay "B" allows',
        '16 hops in a visit, both feet together (drill 2 "J" 16); allowed in "B": up to 10',
        "both.toml: 3 mistakes",
        "drill 1: minutes: there is no such key; did you mean seconds?",
        'drill 1 "Drill 1": belt_speed = "7 mph"; allowed in "B": up to 5 mph',
        "gone.toml: there is no such file",
        "no shipped plan of this name",
    ):
        assert part in told


def test_hops_are_limited_without_a_bay_too(capsys, file):
    plan = file("h.toml", 'name = "H"\n[[drill]]\nkind = "hop"\nhops = [30, 21]\n')
    assert "102 hops in a visit" in said(capsys, plan, code=2)


def test_two_files_for_one_visit_of_a_programme(capsys, file):
    head = 'name = "{}"\nprogramme = {{ name = "P", visit = 1, of = 2 }}\n' + REST
    one, two = file("1.toml", head.format("A")), file("2.toml", head.format("B"))
    assert 'visit = 1 in "A", "B"' in said(capsys, one, two, code=2)
    assert 'visit 1 of 2 of "P"' in said(capsys, one)
