from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from station.coach.visit.course import TIME_OUTS_S, Visit, VisitState
from station.coach.visit.inputs import (
    READY,
    Accept,
    Begin,
    CallStaff,
    Confirm,
    GiveCode,
    Leave,
    SayPain,
    SaySoreness,
    SessionOver,
    StaffClears,
    StaffStart,
    ViewGood,
    VisitInput,
)  # fmt: skip
from station.coach.visit.pain import PainAnswer

KNOWN = GiveCode("R-07", known=True, visited=True)
TO_PAIN: list[VisitInput] = [
    Begin(), KNOWN, SaySoreness("settled"), Accept(), *map(Confirm, READY),
]  # fmt: skip
TO_SESSION: list[VisitInput] = [*TO_PAIN, SayPain(PainAnswer(0)), ViewGood()]


def after(*messages: VisitInput) -> Visit:
    visit = Visit()
    for number, message in enumerate(messages):
        visit.take(message, float(number))
    return visit


def test_a_whole_visit_from_waiting_to_waiting() -> None:
    visit = Visit()
    told: list[VisitState] = []
    messages = [*TO_SESSION, SessionOver("plan done"), SayPain(PainAnswer(1)), Leave()]
    for number, message in enumerate(messages):
        told += [change.to for change in visit.take(message, float(number))]
    assert told == [
        "who", "since_last", "notice", "readiness", "pain_before", "view_check", "session",
        "pain_after", "summary", "waiting",
    ]  # fmt: skip


def test_each_item_of_readiness_is_asked() -> None:
    for left_out in READY:
        others = [Confirm(item) for item in READY if item != left_out]
        visit = after(Begin(), KNOWN, SaySoreness("none"), Accept(), *others)
        assert visit.state == "readiness"
        visit.take(Confirm(left_out), 50.0)
        assert visit.state == "pain_before"


def test_a_first_visit_is_not_asked_about_the_last_one() -> None:
    assert after(Begin(), GiveCode("R-08", True, False)).state == "notice"


def test_a_code_that_no_coach_set_up_goes_no_further() -> None:
    visit = after(Begin(), GiveCode("X", False, False))
    assert visit.state == "unknown_code"
    visit.take(Begin(), 5.0)
    assert visit.state == "who"


@pytest.mark.parametrize("score", [4, 5])
def test_some_pain_needs_a_coach_to_start(score: int) -> None:
    visit = after(*TO_PAIN, SayPain(PainAnswer(score)))
    assert visit.state == "needs_coach"
    assert visit.told == "pain_needs_coach"
    visit.take(ViewGood(), 20.0)
    assert visit.state == "needs_coach"
    visit.take(StaffStart(), 21.0)
    assert visit.state == "view_check"
    assert visit.answers.coach_started


def test_soreness_next_morning_is_kept_for_the_offer() -> None:
    visit = after(Begin(), KNOWN, SaySoreness("still_sore"))
    assert not visit.answers.may_rise
    assert after(Begin(), KNOWN, SaySoreness("settled")).answers.may_rise


def test_a_sore_runner_is_offered_no_more_than_last_time_or_nothing() -> None:
    none_left = GiveCode("R-07", known=True, visited=True, offered_sore=False)
    assert after(Begin(), none_left, SaySoreness("still_sore")).state == "nothing_offered"
    assert after(Begin(), none_left, SaySoreness("none")).state == "notice"
    assert after(Begin(), KNOWN, SaySoreness("still_sore")).state == "notice"


def test_pain_after_is_answered_with_its_own_words() -> None:
    visit = after(*TO_SESSION, SessionOver("plan done"), SayPain(PainAnswer(7)))
    assert (visit.state, visit.told) == ("summary", "pain_too_high")


def test_only_a_person_ends_the_staff_call() -> None:
    visit = after(*TO_SESSION, CallStaff())
    visit.advance(1e6)
    for message in (Begin(), Leave(), SessionOver("x"), ViewGood(), StaffStart(), CallStaff()):
        visit.take(message, 1e6)
        assert visit.state == "staff_call"
    visit.take(StaffClears(), 1e6 + 1)
    assert visit.state == "summary"


def test_what_one_runner_said_is_gone_for_the_next() -> None:
    visit = after(*TO_PAIN, SayPain(PainAnswer(2)), Leave(), Begin())
    assert visit.answers.code is None
    assert visit.answers.pain_before is None
    assert visit.answers.ready == set()


# --- properties ---------------------------------------------------------------------------------

SCORES = st.integers(0, 10)
KINDS = st.frozensets(st.sampled_from(["sharp", "bony", "sudden_calf", "changes_gait"]))
ANSWERS = st.builds(PainAnswer, SCORES, st.just(""), KINDS)
MESSAGES = st.one_of(
    st.sampled_from([
        Begin(), Accept(), StaffStart(), ViewGood(), SessionOver("plan done"), CallStaff(),
        Leave(), *map(Confirm, READY), SaySoreness("none"), SaySoreness("still_sore"), KNOWN,
        GiveCode("N", True, False), GiveCode("U", False, False), GiveCode("O", True, True, False),
    ]),
    st.builds(SayPain, ANSWERS),
)  # fmt: skip
COURSES = st.lists(st.tuples(MESSAGES, st.floats(0.0, 400.0)), max_size=60)


def run(course: list[tuple[VisitInput, float]], visit: Visit | None = None) -> tuple[Visit, float]:
    visit, t_s = visit or Visit(), 0.0
    for message, gap_s in course:
        t_s += gap_s
        visit.take(message, t_s)
    return visit, t_s


@given(COURSES)
def test_every_state_has_a_way_back_to_waiting(course: list[tuple[VisitInput, float]]) -> None:
    visit, t_s = run(course)
    if visit.state == "staff_call":
        visit.take(StaffClears(), t_s)
    if visit.state == "session":
        visit.take(SessionOver("plan done"), t_s)
    for _ in range(3):  # nobody does anything any more
        t_s += max(TIME_OUTS_S.values())
        visit.advance(t_s)
    assert visit.state == "waiting"


@pytest.mark.parametrize(
    "state", [s for s in get_args(VisitState) if s not in ("waiting", "session", "staff_call")]
)
def test_every_state_but_the_session_and_the_call_ends_by_itself(state: VisitState) -> None:
    visit = Visit()
    visit.state = state
    for number in range(1, 3):  # after the pain that nobody told of the summary is shown
        visit.advance(310.0 * number)
    assert visit.state == "waiting"


@given(COURSES)
def test_no_session_begins_after_pain_that_stops(course: list[tuple[VisitInput, float]]) -> None:
    visit, t_s = Visit(), 0.0
    for message, gap_s in course:
        t_s += gap_s
        for change in visit.take(message, t_s):
            if change.to != "session":
                continue
            pain = visit.answers.pain_before
            assert pain is not None
            assert pain.score <= 5
            assert not pain.kinds
            assert pain.score < 4 or visit.answers.coach_started
            assert visit.answers.ready == set(READY)


@given(COURSES)
def test_the_machine_never_clears_the_staff_call(course: list[tuple[VisitInput, float]]) -> None:
    visit, t_s = run([(m, 0.1) for m in TO_SESSION])
    visit.take(CallStaff(), t_s)
    for message, gap_s in course:
        t_s += gap_s
        visit.take(message, t_s)
        visit.advance(t_s)
        assert visit.state == "staff_call"


@given(COURSES)
def test_the_same_course_twice_is_the_same(course: list[tuple[VisitInput, float]]) -> None:
    one, two = run(course)[0], run(course)[0]
    assert (one.state, one.answers, one.told) == (two.state, two.answers, two.told)
