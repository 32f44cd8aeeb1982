from hypothesis import given
from hypothesis import strategies as st

from station.coach.plan import Drill, Plan
from station.coach.visit.offer import Dose, RunnerCaps, dose_of, offer_alone

MPH = 0.44704
RUN = Drill("Run", belt_speed_mps=6 * MPH, seconds=120)
FAST = Drill("Fast", belt_speed_mps=8 * MPH, seconds=120)
REST = Drill("Rest", kind="rest", seconds=60)
HOPS = Drill("Hops", kind="hop", belt_speed_mps=3 * MPH, hops=(8, 4))
CAPS = RunnerCaps(7 * MPH, hops=24)


def offered(plan: Plan, **more: object) -> tuple[list[str], list[tuple[str, str]]]:
    offer = offer_alone(plan, CAPS, **more)  # type: ignore[arg-type]
    names = [] if offer.plan is None else [d.name for d in offer.plan.drills]
    return names, [(d.name, why) for d, why in offer.left_out]


def test_attended_lean_and_rearward_drills_are_never_offered() -> None:
    lean = Drill("Lean", kind="lean", seconds=30)
    rear = Drill("Rear", belt_speed_mps=1.0, seconds=30, runner_faces="rear")
    coached = Drill("Coached", belt_speed_mps=1.0, seconds=30, attended=True)
    names, out = offered(Plan("p", (lean, rear, coached, RUN)))
    assert names == ["Run"]
    assert out == [("Lean", "lean"), ("Rear", "rear"), ("Coached", "attended")]


def test_a_belt_over_the_runners_or_the_bays_cap_is_left_out() -> None:
    assert offered(Plan("p", (RUN, FAST))) == (["Run"], [("Fast", "belt_speed")])
    names, _ = offered(Plan("p", (RUN, FAST)), bay_belt_speed_mps=5 * MPH)
    assert names == []


def test_a_run_without_a_belt_speed_has_no_cap_to_keep() -> None:
    assert offered(Plan("p", (Drill("Free", seconds=60),)))[1] == [("Free", "no_belt_speed")]


def test_hops_are_capped_over_the_whole_visit() -> None:
    names, out = offered(Plan("p", (HOPS, RUN, HOPS)))
    assert HOPS.hop_count == 24
    assert names == ["Hops", "Run"]
    assert out == [("Hops", "hops")]


def test_hops_that_nobody_counts_are_not_offered() -> None:
    timed = Drill("Hops", kind="hop", belt_speed_mps=1.0, seconds=20)
    assert offered(Plan("p", (timed,)))[1] == [("Hops", "hops")]


def test_rests_go_with_what_they_stood_between() -> None:
    names, _ = offered(Plan("p", (FAST, REST, RUN, REST, FAST, REST, RUN, REST, FAST)))
    assert names == ["Run", "Rest", "Run"]


def test_a_sore_runner_is_asked_for_no_more_than_last_time() -> None:
    last = Dose(seconds=150.0, belt_speed_mps=6 * MPH, hops=0)
    names, out = offered(Plan("p", (RUN, RUN, HOPS)), last=last, may_rise=False)
    assert names == ["Run"]
    assert [why for _, why in out] == ["dose", "hops"]
    assert dose_of(Plan("p", (RUN,))).seconds <= last.seconds


def test_a_sore_runner_without_a_last_visit_is_offered_nothing() -> None:
    assert offered(Plan("p", (RUN,)), may_rise=False)[0] == []


def test_a_bay_cap_of_zero_is_a_cap() -> None:
    assert offered(Plan("p", (RUN,)), bay_belt_speed_mps=0.0)[0] == []


DRILLS = st.builds(
    Drill,
    name=st.just("d"),
    kind=st.sampled_from(["run", "rest"]),
    belt_speed_mps=st.one_of(st.none(), st.floats(0.5, 6.0)),
    seconds=st.floats(10.0, 600.0),
    attended=st.booleans(),
) | st.builds(
    Drill,
    name=st.just("d"),
    kind=st.just("hop"),
    belt_speed_mps=st.floats(0.5, 1.7),
    hops=st.tuples(st.integers(1, 12), st.integers(1, 12)),
    attended=st.booleans(),
) | st.sampled_from([
    Drill("d", kind="lean", seconds=30, attended=True),
    Drill("d", belt_speed_mps=1.0, seconds=30, runner_faces="rear"),
])  # fmt: skip


@given(
    drills=st.lists(DRILLS, min_size=1, max_size=8),
    cap_mps=st.floats(0.5, 5.0),
    hops=st.integers(0, 60),
    bay_mps=st.one_of(st.none(), st.floats(0.5, 5.0)),
    last=st.one_of(st.none(), st.builds(Dose, st.floats(0, 900), st.floats(0, 5), st.just(8))),
    may_rise=st.booleans(),
)
def test_nothing_that_needs_a_coach_and_nothing_over_a_cap_is_ever_offered(
    drills, cap_mps, hops, bay_mps, last, may_rise
) -> None:
    offer = offer_alone(
        Plan("p", tuple(drills)), RunnerCaps(cap_mps, hops), bay_mps, last, may_rise
    )
    offered = () if offer.plan is None else offer.plan.drills
    for drill in (d for d in offered if d.kind != "rest"):
        assert not drill.attended
        assert drill.kind != "lean"
        assert drill.runner_faces != "rear"
        assert (drill.belt_speed_mps or 0.0) <= min(cap_mps, bay_mps or cap_mps) + 1e-5
    assert sum(drill.hop_count for drill in offered) <= hops
    if offer.plan is not None and not may_rise:
        before = last or Dose(0.0, 0.0, 0)
        now = dose_of(offer.plan)
        assert now.seconds <= before.seconds + 1e-6
        assert now.belt_speed_mps <= before.belt_speed_mps + 1e-5
        assert now.hops <= before.hops
