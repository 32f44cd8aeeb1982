from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from station.coach.choice import choice_of_key
from station.coach.visit.asking import Asking, GivenCode, GivenStaffCode
from station.coach.visit.course import Visit, VisitState
from station.coach.visit.inputs import (
    Accept,
    Begin,
    GiveCode,
    Leave,
    SayPain,
    SessionOver,
    StaffClears,
    StaffStart,
    ViewGood,
)
from station.coach.visit.pain import PainAnswer


class Bay:
    """Answers what the pages ask, as the bay's loop does."""

    def __init__(self) -> None:
        self.visit = Visit()
        self.asking = Asking()
        self.t_s = 0.0
        self.given: list[object] = []

    def press(self, *faces: str) -> None:
        for face in faces:
            self.t_s += 0.5
            page = self.asking.page(self.visit, self.t_s)
            choice = choice_of_key(page.choices, face)
            if choice is None:
                continue
            answer = self.asking.choose(self.visit, choice)
            if answer is None:
                continue
            self.given.append(answer)
            if isinstance(answer, GivenCode):
                answer = GiveCode(answer.code, answer.code.startswith("R"), answer.code == "R-07")
            elif isinstance(answer, GivenStaffCode):
                if answer.code != "2468":
                    self.asking.staff_code_was_wrong()
                    continue
                in_call = self.visit.state == "staff_call"
                answer = StaffClears() if in_call else StaffStart()
            self.visit.take(answer, self.t_s)  # type: ignore[arg-type]


def test_a_visit_by_keys_alone() -> None:
    bay = Bay()
    bay.press("Enter", "R", "-", "0", "7", "Enter")
    assert bay.visit.state == "since_last"
    bay.press("2", "Enter", "1", "2", "3", "4", "0")
    assert bay.visit.state == "view_check"
    assert bay.visit.answers.pain_before == PainAnswer(0)
    assert bay.visit.answers.soreness == "settled"


def test_pain_is_asked_with_place_and_kind() -> None:
    bay = Bay()
    bay.press("Enter", *"R1", "Enter", "Enter", *"1234", "3", "5", "2", "2", "1", "Enter")
    assert bay.given[-1] == SayPain(PainAnswer(3, "knee", frozenset({"sharp"})))
    assert bay.visit.state == "not_today"


def test_ten_is_typed_as_t() -> None:
    bay = Bay()
    bay.press("Enter", *"R1", "Enter", "Enter", *"1234", "T", "1", "Enter")
    assert bay.visit.answers.pain_before == PainAnswer(10, "foot")


def test_the_staff_code_is_hidden_and_a_wrong_one_told() -> None:
    bay = Bay()
    bay.press("Enter", *"R1", "Enter", "Enter", *"1234", "5", "5", "Enter", *"11")
    assert bay.visit.state == "needs_coach"
    assert bay.asking.page(bay.visit, bay.t_s).entry == "**"
    bay.press("Enter")
    assert "staff_code_wrong" in bay.asking.page(bay.visit, bay.t_s).lines
    bay.press(*"2468", "Enter")
    assert bay.visit.state == "view_check"


def test_what_was_typed_can_be_taken_back_and_has_an_end() -> None:
    bay = Bay()
    bay.press("Enter", *"ABC", "Back", "Back")
    assert bay.asking.page(bay.visit, bay.t_s).entry == "A"
    bay.press(*("Z" * 40))
    assert bay.asking.page(bay.visit, bay.t_s).entry == "A" + "Z" * 15


def test_a_page_says_when_it_will_not_wait_much_longer() -> None:
    bay = Bay()
    bay.press("Enter")
    assert bay.asking.page(bay.visit, bay.t_s + 30.0).seconds_left is None
    assert bay.asking.page(bay.visit, bay.t_s + 50.0).seconds_left == 11


STATES: list[VisitState] = list(get_args(VisitState))


@pytest.mark.parametrize("state", STATES)
def test_no_key_stands_twice_on_a_page(state: VisitState) -> None:
    visit = Visit()
    visit.state = state
    faces = [c.face for c in Asking().page(visit, 0.0).choices if c.face]
    assert len(faces) == len(set(faces))


@pytest.mark.parametrize("state", [s for s in STATES if s not in ("session", "view_check")])
def test_each_page_can_be_answered(state: VisitState) -> None:
    visit = Visit()
    visit.state = state
    assert Asking().page(visit, 0.0).choices


@given(st.lists(st.sampled_from([*"ABR0123456789-T", "Enter", "Back", "Esc"]), max_size=80))
def test_no_sequence_of_keys_brings_a_session_before_pain_was_asked(keys: list[str]) -> None:
    bay = Bay()
    bay.press(*keys)
    assert bay.visit.state != "session"
    if bay.visit.state == "view_check":
        assert bay.visit.answers.pain_before is not None


def test_what_the_page_does_not_offer_changes_nothing() -> None:
    bay = Bay()
    assert bay.asking.choose(bay.visit, "accept") is None
    assert bay.asking.choose(bay.visit, "pain:0") is None
    assert bay.asking.choose(bay.visit, "begin") == Begin()


def test_the_summary_goes_back_to_waiting() -> None:
    bay = Bay()
    bay.visit.state = "session"
    bay.visit.take(SessionOver("plan done"), 1.0)
    bay.press("0", "Enter")
    assert bay.given[-2:] == [SayPain(PainAnswer(0)), Leave()]
    assert bay.visit.state == "waiting"
    assert Accept() not in bay.given
    assert ViewGood() not in bay.given
