"""No drill begins whose hops would be more than a visit may have, by plan or by the coach."""

from __future__ import annotations

import pytest

from station.coach.commands import NextDrill, PreviousDrill, RepeatDrill
from station.coach.plan import Drill, Plan
from station.coach.progress import SessionProgress

HOPS = Drill("Hops", kind="hop", belt_speed_mps=1.3, belt_speed_text="3 mph", hops=(5, 5))
RUN = Drill("Run", belt_speed_mps=2.0, belt_speed_text="2 m/s", seconds=30.0)


def progress(*drills: Drill, limit: int | None = 30) -> SessionProgress:
    made = SessionProgress(Plan("P", drills), countdown_s=0.0, hops_limit=limit)
    made.advance(0.0)
    return made


def hop(session: SessionProgress, landing, count: int) -> None:
    for _ in range(count):
        status = session.status().hop
        assert status is not None
        t_s = session.now_s + 0.4
        session.advance(t_s)
        session.landing(landing(t_s, status.foot), "within")


def names(session: SessionProgress, kind: str) -> list[object]:
    return [dict(event.values).get("name") for event in session.events if event.kind == kind]


def test_repeating_stops_at_the_limit_and_says_so(landing) -> None:
    session = progress(HOPS, RUN)
    hop(session, landing, 9)
    session.command(RepeatDrill(), session.now_s)
    assert session.number == 1, "9 hopped and 20 wanted are 29"
    hop(session, landing, 9)
    session.command(RepeatDrill(), session.now_s)
    assert session.events[-1].kind == "refused"
    assert session.status().hop is not None
    hop(session, landing, 11)
    assert session.drill == RUN
    session.command(PreviousDrill(), session.now_s)
    assert session.drill == RUN
    assert session.events[-1].why == "the hops of this visit are used up"


@pytest.mark.parametrize("limit", [29, 39, 40, None])
def test_a_plan_with_more_hops_leaves_out_what_is_too_much(landing, limit) -> None:
    session = progress(HOPS, HOPS, RUN, limit=limit)
    hop(session, landing, 20)
    if limit is None or limit >= 40:
        hop(session, landing, 20)
        assert names(session, "hops limited") == []
    else:
        assert len(names(session, "hops limited")) == 1
    assert session.drill == RUN


def test_a_plan_that_is_only_hops_ends_where_none_is_left(landing) -> None:
    session = progress(HOPS, HOPS, limit=20)
    hop(session, landing, 20)
    assert session.done


def test_a_coach_who_goes_on_is_led_past_it(landing) -> None:
    session = progress(HOPS, HOPS, RUN, limit=25)
    hop(session, landing, 6)
    session.command(NextDrill(), session.now_s)
    assert session.drill == RUN
