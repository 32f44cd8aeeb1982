"""What is refused between the drills of a plan, and against a bay; all of it at once."""

from __future__ import annotations

import pytest

from station.errors import BadInput
from station.settings import check_plan_against_bay, read_plan
from station.values import Bay

GATE = "advance = { share = 0.9, seconds = 60 }"


def plan(*drills: str) -> str:
    """Build a plan of drills, each "6 mph | 170 | further lines" (rate left out: "-")."""
    text = 'name = "P"\n'
    for drill in drills:
        speed, rate, *more = (part.strip() for part in drill.split("|"))
        text += "[[drill]]\n"
        text += f'belt_speed = "{speed}"\n' if speed != "-" else ""
        text += f"step_rate = {rate}\n" if rate != "-" else ""
        text += "".join(f"{line}\n" for line in more)
        if not any(line.startswith(("seconds", "hops", "steps")) for line in more):
            text += "seconds = 120\n"
    return text


@pytest.mark.parametrize(
    ("drills", "place"),
    [
        (("6 mph | 170", "7 mph | 175"), "drill 2"),
        (("6 mph | 170", '- | - | kind = "rest"', "7 mph | 175"), "drill 3"),
        (("6 mph | 170", '3 mph | - | kind = "rest"', "7 mph | 175"), "drill 3"),
        (("6 mph | 170", '3 mph | - | kind = "hop" | hops = [3]', "7 mph | 175"), "drill 3"),
        (("6 mph | 170", '3 mph | 150 | kind = "hop" | hops = [3]', "4 mph | 160"), "drill 3"),
        (('6 mph | "+2 %"', '10 km/h | "+3 %"'), "drill 2"),
        (("6 mph | -", '7 mph | "+5 %"'), "drill 2"),
        (('6 mph | "own"', '7 mph | "+5 %"'), "drill 2"),
        (("6 mph | 180", "5 mph | 170", "6 mph | 180"), "drill 3"),
        (("10:00 min/mile | 170", "9:00 min/mile | 171"), "drill 2"),
        (("2.7 m/s | 170 | attended = true", "3 m/s | 180 | attended = true"), "drill 2"),
    ],
)
def test_rate_and_belt_speed_never_rise_together(mistakes, drills, place):
    (told,) = mistakes(plan(*drills))
    assert told.startswith(f"{place}: belt_speed = ")
    for part in ("and step_rate = ", "both rise (from ", "one of them at a time"):
        assert part in told


@pytest.mark.parametrize(
    "drills",
    [
        ("6 mph | 170", "7 mph | 170"),
        ("6 mph | 170", "6 mph | 180"),
        ("6 mph | 170", "7 mph | 160"),
        ("6 mph | 170", "5 mph | 180"),
        ("6 mph | 170", "6.05 mph | 180"),  # the same setting within a treadmill's step
        ('6 mph | "+5 %"', '7 mph | "+5 %"'),
        ('6 mph | "+5 %"', '7 mph | "own"'),
        ('6 mph | "+5 %"', "7 mph | -"),
        ("6 mph | -", "7 mph | -"),
        ("6 mph | -", '7 mph | "-5 %"'),
        # Whether they rise cannot be told from the plan: that is flagged, not refused.
        ("6 mph | -", "7 mph | 180"),
        ("6 mph | 170", '7 mph | "+5 %"'),
        ('3 mph | - | kind = "hop" | hops = [3]', '6 mph | "+5 %"'),
        ('- | 150 | kind = "hop" | hops = [3]', "6 mph | 170"),
        # Through a drill in which only one of them rises.
        ("6 mph | 170", "7 mph | 170", "7 mph | 180"),
    ],
)
def test_one_of_them_may_rise(mistakes, drills):
    assert mistakes(plan(*drills)) == ()


def test_a_step_back_needs_a_slower_drill_before(mistakes):
    back = f'6 mph | 170 | {GATE} | otherwise = "step back"'
    assert mistakes(plan("5 mph | 170", back)) == ()
    for earlier in ((), ("6 mph | 170",), ('3 mph | - | kind = "rest"', "6 mph | 170"),
                    ('3 mph | - | kind = "hop" | hops = [3]', "6 mph | 170")):  # fmt: skip
        (told,) = mistakes(plan(*earlier, back))
        assert told.startswith(
            f'drill {len(earlier) + 1}: otherwise = "step back" needs an earlier'
        )
        assert 'than "6 mph"' in told
        assert "go on, repeat or end" in told


def test_a_rate_test_has_two_blocks_or_more_at_one_belt_setting(mistakes):
    block = '6 mph | "own" | rate_test = true'
    more = '6 mph | "+5 %" | rate_test = true'
    assert mistakes(plan(block, '3 mph | - | kind = "rest"', more)) == ()
    (told,) = mistakes(plan(block))
    assert told.startswith("drill 1: rate_test = true in one drill alone")
    told = mistakes(plan(block, "6 mph | -", more))
    assert [line.split(":")[0] for line in told] == ["drill 1", "drill 3"]
    (told,) = mistakes(plan(block, '5 mph | "+5 %" | rate_test = true'))
    assert told.startswith('drill 2: belt_speed = "5 mph" within a rate test at "6 mph"')
    (told,) = mistakes(plan(block, more + " | incline_percent = 2"))
    assert told.startswith("drill 2: incline_percent = 2 within a rate test at 0")


def test_a_mistake_in_one_drill_hides_none_in_another(mistakes):
    told = mistakes(
        plan(
            '6 mph | 170 | otherwise = "end"',
            "fast | 1800 | waist_belt = true",
            "6 mph | 170 | minutes = 3",
            f'7 mph | 180 | {GATE} | otherwise = "step back"',
            '- | - | kind = "lean" | attended = false',
        ).replace('name = "P"', 'nam = "P"')
    )
    starts = [
        "name is missing", "nam: there is no such key", "drill 1: otherwise",
        'drill 2: belt_speed = "fast"', "drill 2: step_rate = 1800", "drill 2: waist_belt",
        "drill 3: minutes", "drill 4: belt_speed = \"7 mph\" and step_rate = 180 both rise",
        "drill 5: attended",
    ]  # fmt: skip
    assert len(told) == len(starts)
    for start in starts:
        assert [line for line in told if line.startswith(start)], start
    numbers = [line.split(":")[0] for line in told if line.startswith("drill")]
    assert numbers == sorted(numbers)  # a drill's mistakes stand together


# --- against the bay ----------------------------------------------------------------------------

HOPS = '3 mph | - | kind = "hop" | hops = [8, 4, 3, 2, 1]'


@pytest.mark.parametrize(
    ("drills", "total", "allowed"),
    [
        ((HOPS,) * 3, 108, False),
        ((HOPS,) * 2, 72, True),
        (('3 mph | - | kind = "hop" | steps = 100',), 100, True),
        (('3 mph | - | kind = "hop" | steps = 101',), 101, False),
        (('3 mph | 120 | kind = "hop" | seconds = 50',), 100, True),
        (('3 mph | 120 | kind = "hop" | seconds = 51',), 102, False),
        (('3 mph | - | kind = "hop" | seconds = 41',), 103, False),  # at 150 a minute
        (("6 mph | - | steps = 5000",), 0, True),  # running is no hopping
    ],
)
def test_the_hops_of_a_visit_are_limited_without_a_profile_too(plan_file, drills, total, allowed):
    read = read_plan(plan_file(plan(*drills)))
    if allowed:
        check_plan_against_bay(read, Bay())
        return
    with pytest.raises(BadInput, match="more hops than bay") as caught:
        check_plan_against_bay(read, Bay())
    (told,) = caught.value.mistakes
    assert told.startswith(f"{total} hops in a visit")
    assert "up to 100 ([limits] hops" in told


def test_a_bay_may_allow_more_hops_or_none(plan_file):
    read = read_plan(plan_file(plan(HOPS, HOPS, HOPS)))
    check_plan_against_bay(read, Bay(hops_limit=108))
    with pytest.raises(BadInput) as caught:
        check_plan_against_bay(read, Bay("Bay 3", hops_limit=0))
    (told,) = caught.value.mistakes
    assert 'drill 1 "Drill 1" 36, drill 2' in told
    assert 'allowed in "Bay 3": up to 0' in told


def test_belt_and_hops_beyond_the_bay_are_told_together(plan_file):
    path = plan_file(plan("11 mph | -", HOPS, HOPS))
    bay = Bay("Bay 2", belt_speed_limit_mps=4.4704, hops_limit=40)
    with pytest.raises(BadInput, match="more belt speed and more hops than bay") as caught:
        read_plan(path, bay)
    assert str(caught.value).startswith(f"{path}: ")
    assert len(caught.value.mistakes) == 2


def test_what_is_beyond_the_bay_is_told_with_the_files_own_mistakes(mistakes):
    bay = Bay("Bay 2", belt_speed_limit_mps=4.4704, hops_limit=40)
    text = plan("11 mph | - | minutes = 2", HOPS, HOPS + " | steps = 3", "0 mph | -")
    assert {line.split(";")[0] for line in mistakes(text, bay)} == {
        "72 hops in a visit, both feet together (drill 2 \"Drill 2\" 36, drill 3 \"Drill 3\" 36)",
        "drill 1: minutes: there is no such key",
        'drill 1 "Drill 1": belt_speed = "11 mph"',
        "drill 3: steps = 3 and hops = [8, 4, 3, 2, 1]",
        'drill 4: belt_speed = "0 mph"',
    }  # fmt: skip
