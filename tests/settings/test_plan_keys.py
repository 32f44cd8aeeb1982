"""Each key of a drill beside the first ones: read as written, refused with its own message."""

from __future__ import annotations

import pytest

from station.coach.plan import Gate, Programme
from station.settings import read_plan

RUN = 'name = "P"\n[[drill]]\nname = "Easy"\nbelt_speed = "6 mph"\nseconds = 300\n'
HOP = 'name = "P"\n[[drill]]\nname = "Hop"\nkind = "hop"\nbelt_speed = "3 mph"\n'
LEAN = 'name = "P"\n[[drill]]\nname = "Lean"\nkind = "lean"\nseconds = 60\n'
REST = 'name = "P"\n[[drill]]\nname = "Rest"\nkind = "rest"\nseconds = 60\n'
GATE = "advance = { share = 0.9, seconds = 120 }\n"


def test_hops_by_rounds_are_read(plan_file):
    (drill,) = read_plan(plan_file(HOP + 'hops = [8, 4, 2]\nfirst_foot = "right"\n')).drills
    assert (drill.hops, drill.first_foot, drill.hop_count) == ((8, 4, 2), "right", 28)
    assert drill.seconds is drill.steps is None


def test_a_hop_drill_may_go_by_time_or_steps(plan_file):
    (by_time,) = read_plan(plan_file(HOP + "seconds = 20\n")).drills
    (by_steps,) = read_plan(plan_file(HOP + "steps = 20\n")).drills
    assert (by_time.seconds, by_steps.steps, by_time.hops) == (20.0, 20, ())


def test_the_belt_of_a_hop_drill_may_stand_or_run_at_4_mph(plan_file):
    standing = HOP.replace('belt_speed = "3 mph"\n', "")
    assert read_plan(plan_file(standing + "hops = [3]\n")).drills[0].belt is None
    assert read_plan(plan_file(HOP.replace("3 mph", "4 mph") + "hops = [3]\n"))


def test_cue_keys_are_read(plan_file):
    text = RUN + 'cue_on = "median"\nwithhold_percent = 12.5\nfeedback = "fading"\n'
    (drill,) = read_plan(plan_file(text)).drills
    assert (drill.cue_on, drill.withhold) == ("median", pytest.approx(0.125))


def test_targets_of_the_strike_are_read(plan_file):
    text = RUN + 'strike_target = "forefoot"\nheel_settles = true\nask_felt = true\n'
    (drill,) = read_plan(plan_file(text)).drills
    assert (drill.strike_target, drill.heel_settles, drill.ask_felt) == ("forefoot", True, True)


def test_a_lean_drill_is_always_attended(plan_file):
    (drill,) = read_plan(plan_file(LEAN + 'waist_belt = true\nrunner_faces = "rear"\n')).drills
    assert (drill.waist_belt, drill.runner_faces, drill.attended) == (True, "rear", True)
    assert read_plan(plan_file(LEAN + "attended = true\n")).drills[0].attended


def test_what_is_left_out_changes_nothing(plan_file):
    (drill,) = read_plan(plan_file(RUN)).drills
    assert (drill.hops, drill.otherwise, drill.cue_on, drill.withhold) == (
        (), "go on", "landing", 0.0
    )  # fmt: skip
    assert (drill.strike_target, drill.heel_settles, drill.runner_faces) == (None, False, "front")
    switches = (drill.waist_belt, drill.ask_felt, drill.rate_test, drill.attended)
    assert not any(switches)


@pytest.mark.parametrize(
    ("gate", "expected"),
    [
        ("share = 0.9, seconds = 120", Gate(0.9, 120.0, 20, 30.0)),
        ("share = 0.9, seconds = 40", Gate(0.9, 40.0, 20, 20.0)),  # the last half of a short one
        ("share = 1, seconds = 120, landings = 45, uncued_seconds = 0", Gate(1.0, 120.0, 45, 0.0)),
        ("share = 0.8, seconds = 60, uncued_seconds = 59.5", Gate(0.8, 60.0, 20, 59.5)),
    ],
)
def test_gates(plan_file, gate, expected):
    text = RUN + f'advance = {{ {gate} }}\notherwise = "repeat"\n'
    (drill,) = read_plan(plan_file(text)).drills
    assert (drill.advance, drill.otherwise) == (expected, "repeat")


def test_the_visit_of_a_programme(plan_file):
    visit = 'programme = { name = "Eight", visit = 3, of = 8 }\n'
    assert read_plan(plan_file(visit + RUN)).programme == Programme("Eight", 3, 8)
    assert read_plan(plan_file(RUN)).programme is None


@pytest.mark.parametrize(
    ("head", "lines", "parts"),
    [
        (HOP, "hops = []", ["hops = []", "1 to 20 rounds"]),
        (HOP, "hops = 8", ["hops = 8", "such as [8, 4, 3, 2, 1]"]),
        (HOP, "hops = [8, 0]", ["hops[2] = 0", "1 to 30 hops of one foot"]),
        (HOP, "hops = [31]", ["hops[1] = 31", "1 to 30 hops of one foot"]),
        (HOP, "hops = [2.5]", ["hops[1] = 2.5", "1 to 30 hops of one foot"]),
        (HOP, "hops = [true]", ["hops[1] = true", "1 to 30 hops of one foot"]),
        (HOP, "", ["seconds, steps or hops is missing", "one of them"]),
        (HOP, "hops = [8]\nsteps = 3", ["steps = 3 and hops = [8]", "one of them"]),
        (HOP, "hops = [8]\nseconds = 3", ["seconds = 3 and hops = [8]", "one of them"]),
        (HOP, 'hops = [8]\nfirst_foot = "both"', ['first_foot = "both"', "left or right"]),
        (HOP, 'steps = 8\nfirst_foot = "left"', ['first_foot = "left"', "hops such as"]),
        (HOP, "seconds = 200\n" + GATE, ["advance = a table", '"hop"', "run or lean"]),
        (HOP.replace("3 mph", "4.1 mph"), "hops = [8]", ['"4.1 mph"', "up to 4 mph (6.4 km/h)"]),
        (RUN, "hops = [8]", ["hops = [8]", 'kind = "run"', "in kind hop"]),
        (RUN, 'first_foot = "left"', ['first_foot = "left"', 'kind = "hop"']),
        (RUN, "waist_belt = true", ["waist_belt = true", "in kind lean"]),
        (RUN, 'waist_belt = "yes"', ['waist_belt = "yes"', "true or false", "in kind lean"]),
        (RUN, 'runner_faces = "rear"', ['runner_faces = "rear"', "in kind lean"]),
        (LEAN, 'runner_faces = "left"', ['runner_faces = "left"', "front", "or rear"]),
        (LEAN, "attended = false", ["attended = false", "never run without a coach", "true"]),
        (LEAN, "rate_test = true", ["rate_test = true", '"lean"', "in kind run"]),
        (
            LEAN,
            'runner_faces = "rear"\nbelt_speed = "5 mph"',
            ['belt_speed = "5 mph"', 'runner_faces = "rear"', "up to 4 mph"],
        ),
        (RUN, 'otherwise = "end"', ['otherwise = "end" goes with advance']),
        (RUN, GATE + 'otherwise = "stop"', ['otherwise = "stop"', "go on, repeat, step back or"]),
        (RUN, 'cue_on = "mean"', ['cue_on = "mean"', "landing (each one) or median"]),
        (RUN, "withhold_percent = 51", ["withhold_percent = 51", "1 to 50 percent"]),
        (RUN, "withhold_percent = -1", ["withhold_percent = -1", "1 to 50 percent"]),
        (
            RUN,
            'feedback = "summary"\nwithhold_percent = 20',
            ['withhold_percent = 20 with feedback = "summary"', "every step or fading"],
        ),
        (RUN, "withhold_percent = 0.2", ["withhold_percent = 0.2", "a fifth is 20", "1 to 50"]),
        (RUN, "minutes = 5", ["minutes: there is no such key; did you mean seconds?"]),
        (RUN, "cadence = 170", ["cadence: there is no such key; did you mean step_rate?"]),
        (RUN, 'feedback = "off"\nwithhold_percent = 1', ["withhold_percent = 1", '"off"']),
        (RUN, 'strike_target = "rearfoot"', ['strike_target = "rearfoot"', "forefoot or midfoot"]),
        (RUN, "heel_settles = 1", ["heel_settles = 1", "true or false"]),
        (RUN, 'ask_felt = "on"', ['ask_felt = "on"', "true or false"]),
        (REST, "ask_felt = true", ["ask_felt = true", '"rest"', "run or hop or lean"]),
        (REST, "heel_settles = true", ["heel_settles = true", '"rest"']),
        (REST, 'strike_target = "midfoot"', ['strike_target = "midfoot"', '"rest"']),
        (REST, 'cue_on = "median"', ['cue_on = "median"', '"rest"']),
        (REST, "withhold_percent = 10", ["withhold_percent = 10", '"rest"']),
        (REST, "hops = [1]", ["hops = [1]", "in kind hop"]),
        (REST, "advance = { share = 0.9, seconds = 30 }", ["advance = a table", '"rest"']),
        (
            RUN,
            "advance = { share = 0.9, seconds = 120, landings = 0 }",
            ["advance.landings = 0", "1 to 5000 landings of each leg"],
        ),
        (
            RUN,
            "step_rate = 180\nadvance = { share = 0.9, seconds = 120, landings = 181 }",
            ["advance.landings = 181", "can never be met in 120 seconds", "1 to 180"],
        ),
        (
            RUN,
            "advance = { share = 0.9, seconds = 60, landings = 131 }",
            ["advance.landings = 131", "1 to 130"],
        ),
        (
            RUN,
            "advance = { share = 0.9, seconds = 60, uncued_seconds = 60 }",
            ["advance.uncued_seconds = 60", "under advance.seconds = 60"],
        ),
        (
            RUN,
            "advance = { share = 0.9, seconds = 60, uncued_seconds = -1 }",
            ["advance.uncued_seconds = -1", "0 to under advance.seconds"],
        ),
        (
            RUN,
            "advance = { share = 0.9, seconds = 60, landing = 3 }",
            ["advance.landing: there is no such key", "did you mean landings?"],
        ),
    ],
)
def test_each_mistake_names_drill_key_value_and_what_is_allowed(mistakes, head, lines, parts):
    told = mistakes(f"{head}{lines}\n")
    assert told
    assert all(line.startswith("drill 1 ") for line in told)
    assert len(told) == (2 if '"yes"' in lines else 1)
    for part in parts:
        assert part in "\n".join(told)


@pytest.mark.parametrize(
    ("lines", "parts"),
    [
        ("", ["rate_test = true needs step_rate", "own"]),
        ("step_rate = 170\n" + GATE, ["rate_test = true with advance", "whole length"]),
    ],
)
def test_blocks_of_a_rate_test(mistakes, lines, parts):
    block = f'[[drill]]\nbelt_speed = "6 mph"\nseconds = 300\nrate_test = true\n{lines}'
    other = '[[drill]]\nbelt_speed = "6 mph"\nseconds = 60\nrate_test = true\nstep_rate = "own"\n'
    (told,) = mistakes(f'name = "P"\n{other}{block}')
    assert told.startswith("drill 2: ")
    for part in parts:
        assert part in told


@pytest.mark.parametrize(
    ("value", "parts"),
    [
        ("3", ["programme = 3", 'such as { name = "Eight visits"']),
        (
            '{ name = "E", visit = 9, of = 8 }',
            ["[programme]: visit = 9 with of = 8", "from 1 to of"],
        ),
        ('{ name = "E", visit = 0, of = 8 }', ["[programme] visit = 0", "1 to 100"]),
        ('{ name = "E", visit = 1, of = 800 }', ["[programme] of = 800", "1 to 100"]),
        ('{ name = "E", visit = 1 }', ["[programme] of is missing", "1 to 100"]),
        ("{ visit = 1, of = 8 }", ["[programme] name is missing", "the same in all plans"]),
        ('{ name = "", visit = 1, of = 8 }', ["[programme] name", "1 to 80 characters"]),
    ],
)
def test_mistakes_in_the_visit_of_a_programme(mistakes, value, parts):
    (told,) = mistakes(f"programme = {value}\n{RUN}")
    for part in parts:
        assert part in told
