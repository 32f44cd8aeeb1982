"""Whatever a plan file holds, it is read or refused with words: never a traceback."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.coach.baseline import SAME_SPEED_MPS
from station.coach.plan import Plan
from station.coach.plan_dose import feedback_share, plan_hops, plan_seconds
from station.coach.plan_flags import plan_flags
from station.coach.plan_rates import rate_rises
from station.commands.plan_tables import details_table, drills_table, overview, summary
from station.errors import BadInput
from station.settings import check_plan_against_bay, read_plan
from station.settings.drill_table import DrillTable
from station.values import Bay

WRONG = st.one_of(
    st.none(), st.booleans(), st.integers(-3, 3000), st.floats(-10, 300, allow_nan=False),
    st.sampled_from(["", "own", "+5 %", "6 mph", "on", "{}", "läuft"]),
    st.lists(st.integers(-1, 40), max_size=4),
    st.dictionaries(st.sampled_from(["share", "seconds", "name"]), st.integers(-1, 200)),
)  # fmt: skip
RIGHT = {
    "name": st.sampled_from(["A", "Easy", 'with "quotes"', "[red]"]),
    "kind": st.sampled_from(["run", "run", "run", "hop", "lean", "rest"]),
    "belt_speed": st.sampled_from(["3 mph", "4 mph", "6 mph", "10 km/h", "7:30 min/mile"]),
    "incline_percent": st.sampled_from([0, 1.5]),
    "step_rate": st.sampled_from([150, 170, 180, "own", "+5 %", "+12 %", "-5 %"]),
    "seconds": st.sampled_from([20, 120, 300.5]),
    "steps": st.sampled_from([10, 400]),
    "hops": st.sampled_from([[8, 4, 2], [1], [30] * 5]),
    "first_foot": st.sampled_from(["left", "right"]),
    "landing_limit_deg": st.sampled_from([8, 5.5]),
    "landing_change_deg": st.sampled_from([-2, 0]),
    "feedback": st.sampled_from(["every step", "fading", "summary", "off"]),
    "cue_on": st.sampled_from(["landing", "median"]),
    "withhold_percent": st.sampled_from([0, 20]),
    "beat": st.sampled_from(["on", "off"]),
    "beat_every": st.sampled_from(["step", "stride"]),
    "beat_from": st.sampled_from(["target", "own"]),
    "beat_ramp_percent": st.sampled_from([0, 1]),
    "guides": st.sampled_from(["on", "off"]),
    "view": st.sampled_from(["on", "off"]),
    "advance": st.sampled_from(
        [{"share": 0.9, "seconds": 20}, {"share": 0.9, "seconds": 120, "landings": 300},
         {"share": 0.9, "seconds": 60, "uncued_seconds": 60}]
    ),
    "otherwise": st.sampled_from(["go on", "repeat", "step back", "end"]),
    "strike_target": st.sampled_from(["forefoot", "midfoot"]),
    "heel_settles": st.booleans(),
    "runner_faces": st.sampled_from(["front", "rear"]),
    "waist_belt": st.booleans(),
    "ask_felt": st.booleans(),
    "rate_test": st.booleans(),
    "attended": st.booleans(),
}  # fmt: skip
USUAL = {"belt_speed", "seconds"}
SOME = st.sets(st.sampled_from(sorted(set(RIGHT) - USUAL)), max_size=5)


@st.composite
def plausible_drills(draw):
    """Right values under right keys, though together they may make no sense."""
    keys = USUAL | draw(SOME) if draw(st.integers(0, 9)) else draw(SOME)
    return {key: draw(RIGHT[key]) for key in sorted(keys)}


@st.composite
def any_drills(draw):
    """Right keys and wrong ones, right values and wrong ones."""
    drill = draw(plausible_drills())
    for key in draw(st.sets(st.sampled_from([*RIGHT, "minutes", "hop"]), max_size=3)):
        drill[key] = draw(WRONG)
    return drill


def toml(value):
    """Write a value as TOML (null, which TOML lacks, as a text)."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{k} = {toml(v)}" for k, v in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(toml(v) for v in value) + "]"
    return json.dumps("none" if value is None else value, ensure_ascii=False)


def text_of(drills, head='name = "P"\n'):
    tables = ("".join(f"{k} = {toml(v)}\n" for k, v in drill.items()) for drill in drills)
    return head + "".join(f"[[drill]]\n{table}" for table in tables)


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    return tmp_path_factory.mktemp("plans") / "plan.toml"


def read(path: Path, text: str, bay: Bay) -> Plan | None:
    """Read; a refusal must name the file and what is wrong."""
    path.write_text(text, encoding="utf-8")
    try:
        return read_plan(path, bay)
    except BadInput as fault:
        told = fault
    assert str(told).startswith(f"{path}: ")
    assert told.mistakes
    assert all(len(line) > 10 for line in told.mistakes)
    return None


def test_every_key_of_a_drill_is_tried_here():
    assert set(RIGHT) == set(DrillTable.model_fields)


@settings(deadline=None, max_examples=50)
@given(
    st.lists(any_drills(), max_size=4),
    WRONG,
    WRONG,
    st.sampled_from([Bay(), Bay("B", hops_limit=0)]),
)
def test_any_file_is_read_or_refused_with_words(path, drills, name, programme, bay):
    head = f"name = {toml(name)}\nprogramme = {toml(programme)}\n"
    read(path, text_of(drills, head), bay)
    read(path, text_of(drills), bay)


@settings(deadline=None, max_examples=80)
@given(st.lists(plausible_drills(), min_size=1, max_size=4))
def test_what_is_read_keeps_every_rule(path, drills):
    bay = Bay("B", belt_speed_limit_mps=4.0, hops_limit=60)
    plan = read(path, text_of(drills), bay)
    if plan is None:
        return
    check_plan_against_bay(plan, bay)
    assert plan_hops(plan) <= 60
    before = None
    for drill in plan.drills:
        assert drill.kind != "lean" or drill.attended
        assert drill.kind == "hop" or not drill.hops
        assert drill.kind == "lean" or not (drill.waist_belt or drill.runner_faces == "rear")
        assert drill.belt_speed_mps is None or drill.belt_speed_mps <= 4.0
        assert drill.kind != "hop" or (drill.belt_speed_mps or 0.0) <= 4 * 0.44704 + 1e-6
        assert not drill.withhold or drill.feedback in ("every step", "fading")
        if drill.advance is not None:
            assert drill.advance.uncued_seconds < drill.advance.seconds
        if drill.kind != "run":
            continue
        if before is not None and drill.belt_speed_mps - before.belt_speed_mps > SAME_SPEED_MPS:
            assert rate_rises(before.step_rate, drill.step_rate) is not True
        before = drill
    # And it can be told of.
    assert feedback_share(plan) is None or 0.0 <= feedback_share(plan) <= 1.0
    assert plan_seconds(plan) > 0.0
    assert all(str(flag).startswith("drill ") for flag in plan_flags(plan))
    assert summary(plan)
    assert overview([("p", plan)]).row_count == 1
    assert drills_table(plan).row_count == len(plan.drills)
    details_table(plan)
