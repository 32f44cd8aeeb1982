from __future__ import annotations

import pytest

from station.coach.plan import Gate, StepRate
from station.errors import BadInput
from station.settings import check_plan_against_bay, read_plan
from station.values import Bay

MPH = 0.44704


DRILL = 'name = "P"\n[[drill]]\nname = "Easy"\nbelt_speed = "6 mph"\nseconds = 60\n'

FULL = """
name = "Same rate, faster belt"
[[drill]]
name = "Easy"
kind = "lean"
belt_speed = "10:00 min/mile"
incline_percent = 1
step_rate = 180
steps = 120
landing_limit_deg = 8.0
feedback = "fading"
beat = "off"
guides = "off"
view = "off"
beat_every = "stride"
beat_from = "own"
beat_ramp_percent = 2.5
advance = { share = 0.9, seconds = 120 }
attended = true
[[drill]]
belt_speed = " 12  km/h "
step_rate = "+5 %"
seconds = 90.5
landing_change_deg = -2
[[drill]]
kind = "rest"
seconds = 30
"""


def test_every_key_is_read(plan_file):
    plan = read_plan(plan_file(FULL))
    one, two, three = plan.drills
    assert plan.name == "Same rate, faster belt"
    assert (one.name, one.kind, one.belt_speed_text) == ("Easy", "lean", "10:00 min/mile")
    assert one.belt_speed_mps == pytest.approx(6 * MPH)
    assert one.incline_percent == 1.0
    assert one.step_rate == StepRate(spm=180.0)
    assert (one.seconds, one.steps, one.landing_limit_deg) == (None, 120, 8.0)
    assert (one.feedback, one.beat, one.guides, one.view) == ("fading", False, False, False)
    assert (one.beat_every, one.beat_from, one.beat_ramp) == ("stride", "own", 0.025)
    assert one.advance == Gate(0.9, 120.0)
    assert one.attended
    assert (two.name, two.belt_speed_text) == ("Drill 2", "12 km/h")
    assert two.belt_speed_mps == pytest.approx(12 / 3.6)
    assert two.step_rate == StepRate(change_percent=5.0)
    assert (two.seconds, two.landing_change_deg) == (90.5, -2.0)
    assert (three.kind, three.belt, three.step_rate) == ("rest", None, None)


def test_what_is_left_out_has_the_designs_defaults(plan_file):
    (drill,) = read_plan(plan_file(DRILL)).drills
    assert (drill.kind, drill.feedback, drill.incline_percent) == ("run", "every step", 0.0)
    assert (drill.beat, drill.guides, drill.view, drill.attended) == (True, True, True, False)
    assert (drill.beat_every, drill.beat_from, drill.beat_ramp) == ("step", "target", 0.0)
    assert drill.landing_limit_deg is drill.advance is drill.step_rate is None


@pytest.mark.parametrize(
    ("text", "change"),
    [("+5 %", 5.0), ("-5%", -5.0), ("+ 7.5 %", 7.5), ("+0 %", 0.0), ("-30 %", -30.0)],
)
def test_step_rates_as_a_change(plan_file, text, change):
    (drill,) = read_plan(plan_file(DRILL + f'step_rate = "{text}"\n')).drills
    assert drill.step_rate == StepRate(change_percent=change)


def test_a_step_rate_may_be_the_runners_own(plan_file):
    (drill,) = read_plan(plan_file(DRILL + 'step_rate = "own"\n')).drills
    assert drill.step_rate == StepRate(change_percent=0.0, own=True)


@pytest.mark.parametrize("percent", ["0", "0.0", "0.1", "1", "3"])
def test_ramps_from_none_to_three_percent(plan_file, percent):
    (drill,) = read_plan(plan_file(DRILL + f"beat_ramp_percent = {percent}\n")).drills
    assert drill.beat_ramp == pytest.approx(float(percent) / 100.0)


def test_all_mistakes_about_the_beat_are_told_at_once(plan_file):
    text = DRILL + 'beat_every = "pace"\nbeat_from = "own"\nbeat_ramp_percent = 4\n'
    with pytest.raises(BadInput) as caught:
        read_plan(plan_file(text))
    told = "\n".join(caught.value.mistakes)
    assert len(caught.value.mistakes) == 3
    for part in ("step or stride", "needs step_rate", "beat_ramp_percent = 4"):
        assert part in told


RATE = "60 to 260 steps per minute"
SPEED = "0.5 to 25 km/h"


@pytest.mark.parametrize(
    ("line", "parts"),
    [
        ("step_rate = 1800", ["step_rate = 1800", RATE]),
        ("step_rate = 59", ["step_rate = 59", RATE]),
        ("step_rate = true", ["step_rate = true", RATE]),
        ("step_rate = nan", ["step_rate", RATE]),
        ('step_rate = "mine"', ['step_rate = "mine"', '"own"']),
        ('beat_every = "beat"', ['beat_every = "beat"', "step or stride"]),
        ('beat_from = "zero"', ['beat_from = "zero"', "target or own"]),
        ("beat_ramp_percent = 3.1", ["beat_ramp_percent = 3.1", "0.1 to 3 percent a step"]),
        ("beat_ramp_percent = -1", ["beat_ramp_percent = -1", "0 (changes come at once)"]),
        ("beat_ramp_percent = 0.01", ["beat_ramp_percent = 0.01", "0.1 to 3 percent a step"]),
        ('beat_ramp_percent = "2"', ['beat_ramp_percent = "2"', "percent a step"]),
        (
            'step_rate = 180\nbeat_from = "own"',
            ['beat_from = "own" needs beat_ramp_percent', "0.1 to 3"],
        ),
        ('beat_from = "own"\nbeat_ramp_percent = 1', ["needs step_rate", 'step_rate = "own"']),
        ('step_rate = "5"', ['step_rate = "5"', RATE]),
        ('step_rate = "180"', ['step_rate = "180"', RATE]),
        ('step_rate = "+31 %"', ['step_rate = "+31 %"', '"+30 %"']),
        ("incline_percent = 41", ["incline_percent = 41", "-6 to 40 percent"]),
        ('incline_percent = "1"', ['incline_percent = "1"', "-6 to 40 percent"]),
        ("incline_percent = inf", ["incline_percent", "-6 to 40 percent"]),
        ("landing_limit_deg = 31", ["landing_limit_deg = 31", "-10 to 30 degrees"]),
        ("landing_change_deg = -11", ["landing_change_deg = -11", "-10 to 10 degrees"]),
        ('kind = "jog"', ['kind = "jog"', "run, hop, lean or rest"]),
        ('feedback = "always"', ['feedback = "always"', "every step, fading, summary or off"]),
        ("beat = true", ["beat = true", "on or off"]),
        ('attended = "yes"', ['attended = "yes"', "true or false"]),
        ("attended = 1", ["attended = 1", "true or false"]),
        ("advance = { share = 0, seconds = 30 }", ["advance.share = 0", "share over 0"]),
        ("advance = { share = 0.9 }", ["advance.seconds is missing", "5 to 3600"]),
        ("advance = { share = 0.9, seconds = 90 }", ["advance.seconds = 90", "60 seconds"]),
        ("advance = 0.9", ["advance = 0.9", "{ share = 0.9, seconds = 120 }"]),
        ("steps = 120", ["seconds = 60 and steps = 120", "one of them"]),
        ("step_rat = 170", ["step_rat", "no such key", "did you mean step_rate?"]),
        ("colour = 3", ["colour", "no such key", "allowed: name, kind, belt_speed"]),
    ],
)
def test_each_mistake_names_file_drill_key_value_and_what_is_allowed(plan_file, line, parts):
    path = plan_file(DRILL + line + "\n")
    with pytest.raises(BadInput) as caught:
        read_plan(path)
    assert str(caught.value).startswith(f"{path}: 1 mistake")
    (mistake,) = caught.value.mistakes
    assert mistake.startswith('drill 1 "Easy": ')
    for part in parts:
        assert part in mistake


@pytest.mark.parametrize(
    ("old", "new", "parts"),
    [
        ('"6 mph"', '"60 mph"', ['belt_speed = "60 mph"', "no treadmill's speed", SPEED]),
        ('"6 mph"', '"0 mph"', ['belt_speed = "0 mph"', SPEED]),
        ('"6 mph"', '"-6 mph"', ['belt_speed = "-6 mph"', SPEED]),
        ('"6 mph"', '"{6} mph"', ['belt_speed = "{6} mph"', SPEED]),
        ('"6 mph"', "6", ["belt_speed = 6;", "with its unit"]),
        ('belt_speed = "6 mph"\n', "", ["belt_speed is missing", "with its unit"]),
        ("seconds = 60\n", "", ["seconds or steps is missing"]),
        ("seconds = 60", "seconds = 0", ["seconds = 0", "over 0, up to 7200"]),
        ("seconds = 60", "seconds = 7201", ["seconds = 7201", "over 0, up to 7200"]),
        ("seconds = 60", 'seconds = "60"', ['seconds = "60"', "over 0, up to 7200"]),
        ("seconds = 60", "steps = 0", ["steps = 0", "1 to 20000"]),
        ("seconds = 60", "steps = 1.5", ["steps = 1.5", "whole number"]),
        ("seconds = 60", 'kind = "rest"\nsteps = 5', ["steps = 5", "a rest is given in seconds"]),
        ('name = "Easy"', 'name = " "', ["name", "1 to 80 characters"]),
    ],
)
def test_mistakes_in_what_a_drill_needs(plan_file, old, new, parts):
    with pytest.raises(BadInput) as caught:
        read_plan(plan_file(DRILL.replace(old, new, 1)))
    (mistake,) = caught.value.mistakes
    assert mistake.startswith("drill 1")
    for part in parts:
        assert part in mistake


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ('name = "P"\n', "drill is missing; allowed: 1 to 100 [[drill]] tables"),
        ('name = "P"\ndrill = []\n', "1 to 100 [[drill]] tables"),
        ('name = "P"\n[drill]\nseconds = 3\n', "double brackets"),
        (DRILL.replace('name = "P"\n', ""), "name is missing; allowed: a name"),
        ('nmae = "Q"\n' + DRILL, "nmae: there is no such key; did you mean name?"),
        ("# only a comment\n", "name is missing"),
    ],
)
def test_mistakes_of_the_whole_file(plan_file, text, part):
    with pytest.raises(BadInput) as caught:
        read_plan(plan_file(text))
    assert part in str(caught.value)


def test_all_mistakes_are_told_at_once(plan_file):
    text = """
nmae = 3
[[drill]]
name = "Easy"
step_rate = 1800
[[drill]]
kind = "jog"
seconds = -1
belt_speed = 6
beet = "on"
"""
    with pytest.raises(BadInput) as caught:
        read_plan(plan_file(text))
    places = sorted(m.split(";")[0].split(" = ")[0] for m in caught.value.mistakes)
    assert places == sorted(
        [
            "name is missing",
            "nmae: there is no such key",
            'drill 1 "Easy": step_rate',
            'drill 1 "Easy": belt_speed is missing',
            'drill 1 "Easy": seconds or steps is missing',
            "drill 2: kind",
            "drill 2: seconds",
            "drill 2: belt_speed",
            "drill 2: beet: there is no such key",
        ]
    )
    assert caught.value.exit_code == 2


@pytest.mark.parametrize(
    ("raw", "part"),
    [
        (b"", "the file is empty"),
        (b" \n\t\n", "the file is empty"),
        (b'name = "P\n', "not valid TOML: .*line 1, column"),
        (b'name = "P"\nname = "Q"\n', "not valid TOML: .*line 2, column"),
        ('name = "Läufer"'.encode("latin-1"), r"not UTF-8 text \(byte 10\)"),
        ('name = "P"'.encode("utf-16"), r"not UTF-8 text \(byte 1\)"),
        (b"x = " + b"[" * 20000, "not valid TOML"),
        (b"#" * 1_000_001, "too many"),
    ],
)
def test_files_that_are_no_plan(plan_file, raw, part):
    path = plan_file(raw)
    with pytest.raises(BadInput, match=part) as caught:
        read_plan(path)
    assert str(caught.value).startswith(str(path))


@pytest.mark.parametrize(
    ("line", "hint"),
    [
        ("feedback = off", 'a text stands in quotes: "off"'),
        ("seconds = 5 minutes", 'a text stands in quotes: "5 minutes"'),
        ("step_rate = +5 %", 'a text stands in quotes: "+5 %"'),
        ("feedback = every step   # always", 'a text stands in quotes: "every step"'),
        ('beat = "on', None),
        ("steps 120", None),
    ],
)
def test_the_line_that_is_no_toml_is_quoted(plan_file, line, hint):
    with pytest.raises(BadInput, match=r"not valid TOML: .*line 6, column") as caught:
        read_plan(plan_file(DRILL + line + "\n"))
    told = str(caught.value).splitlines()
    assert told[1:] == [f"  {line}", *([f"  {hint}"] if hint else [])]


def test_a_byte_order_mark_does_no_harm(plan_file):
    assert read_plan(plan_file(b"\xef\xbb\xbf" + DRILL.encode())).name == "P"


def test_places_that_hold_no_file(tmp_path, plan_file):
    with pytest.raises(BadInput, match="no such file"):
        read_plan(tmp_path / "none.toml")
    with pytest.raises(BadInput, match="this is a folder"):
        read_plan(tmp_path)
    with pytest.raises(BadInput, match="a part of this path is a file"):
        read_plan(plan_file(DRILL) / "plan.toml")
    with pytest.raises(BadInput, match="cannot be read"):
        read_plan(tmp_path / "a\0b")


def test_unreadable_file(plan_file, monkeypatch):
    path = plan_file(DRILL)

    def refuse(self):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(type(path), "read_bytes", refuse)
    with pytest.raises(BadInput, match=r"cannot be read \(Permission denied\)"):
        read_plan(path)


def test_a_plan_never_asks_beyond_the_bay(plan_file):
    text = DRILL + (
        '[[drill]]\nname = "Fast"\nbelt_speed = "10.1 mph"\nseconds = 5\n'
        '[[drill]]\nbelt_speed = "16.1 km/h"\nseconds = 5\n'
        '[[drill]]\nbelt_speed = "10 mph"\nseconds = 5\n'
        '[[drill]]\nkind = "rest"\nseconds = 5\n'
    )
    plan = read_plan(plan_file(text))
    check_plan_against_bay(plan, Bay())
    with pytest.raises(BadInput) as caught:
        check_plan_against_bay(plan, Bay(name="Bay 2", belt_speed_limit_mps=10 * MPH))
    assert caught.value.mistakes == (
        'drill 2 "Fast": belt_speed = "10.1 mph"; allowed in "Bay 2": up to 10 mph',
        'drill 3 "Drill 3": belt_speed = "16.1 km/h"; allowed in "Bay 2": up to 16.09 km/h',
    )
