from __future__ import annotations

import pytest

from station.coach.plan import Plan, Programme
from station.coach.programmes import next_visit, programme_faults, programmes


@pytest.fixture
def visit(drill):
    def build(number, of=3, name="Three", plan=None):
        return Plan(plan or f"{name} {number}", (drill(),), Programme(name, number, of))

    return build


def test_plans_of_a_programme_come_in_the_order_of_their_visits(visit, drill):
    one, two, three, other = visit(1), visit(2), visit(3), visit(1, 1, "Other")
    found = programmes([three, other, Plan("alone", (drill(),)), one, two])
    assert found == {"Three": (one, two, three), "Other": (other,)}
    assert programmes([]) == {}
    assert programme_faults([three, one, other]) == []  # one that is not there is no fault


def test_the_next_visit(visit):
    plans = [visit(3), visit(1)]
    assert next_visit(plans, "Three", 0) is plans[1]
    assert next_visit(plans, "Three", 1) is None  # missing
    assert next_visit(plans, "Three", 2) is plans[0]
    assert next_visit(plans, "Three", 3) is None  # over
    assert next_visit(plans, "None", 0) is None


def test_two_plans_for_one_visit_and_lengths_that_differ(visit):
    told = programme_faults([visit(1, plan="A"), visit(1, plan="B"), visit(2, of=4)])
    assert told == [
        'programme "Three": visit = 1 in "A", "B"; allowed: one plan each',
        'programme "Three": of = 3 and 4; allowed: the same in all its plans',
    ]


def test_a_visit_beyond_the_programme_is_a_wrong_program():
    for number in (0, 4):
        with pytest.raises(ValueError, match="of 3"):
            Programme("P", number, 3)


def test_unattended_plans_keep_their_visit(drill):
    plan = Plan("P", (drill(), drill(attended=True)), Programme("P", 1, 2))
    assert plan.without_attended().programme == plan.programme
