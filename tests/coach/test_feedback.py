from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.coach.feedback import FeedbackPolicy, FeedbackRule, fading_interval
from station.coach.plan import Drill

VERDICTS = st.sampled_from(["within", "ahead", None])
STEP_S = 1 / 3
FEW = settings(max_examples=40, deadline=None)


def play(policy, run, verdicts, *, start_s=0.0, length=None, **state):
    """Feed verdicts one by one; return the cues' kinds in order of landings (None: silent)."""
    length = length or len(verdicts)
    kinds = []
    for i, (landing, verdict) in enumerate(zip(run(len(verdicts)), verdicts, strict=True)):
        t_s = start_s + landing.t_contact_s + 0.1
        cue = policy.landing(landing, verdict, t_s, share_done=i / length, **state)
        if cue is not None:
            assert (cue.t_asked_s, cue.side) == (t_s, landing.side)
        kinds.append(None if cue is None else cue.kind)
    return kinds


def policy_for(drill, feedback="every step", **rule):
    policy = FeedbackPolicy(FeedbackRule(**rule))
    policy.start_drill(drill(feedback=feedback), 0.0)
    return policy


def test_each_landing_ahead_is_cued_and_no_other(drill, run):
    kinds = play(policy_for(drill), run, ["within", "ahead", None, "within", "ahead", "within"])
    assert kinds == [None, "ahead", None, None, "ahead", None]


def test_cues_keep_the_least_gap(drill, run):
    ahead = ["ahead"] * 6  # 0.333 s apart
    assert play(policy_for(drill), run, ahead) == ["ahead", None] * 3
    assert play(policy_for(drill, least_gap_s=0.0), run, ahead) == ["ahead"] * 6
    assert play(policy_for(drill, least_gap_s=0.9), run, ahead) == ["ahead", None, None] * 2


@pytest.mark.parametrize(("gap_s", "sounded"), [(0.6, 3), (0.9, 2), (0.0, 6), (2.5, 1)])
def test_cues_within_the_gap_are_dropped_and_counted(drill, run, gap_s, sounded):
    policy = policy_for(drill, least_gap_s=gap_s)
    kinds = play(policy, run, ["ahead"] * 6)  # 0.333 s apart
    assert kinds.count("ahead") == sounded
    assert policy.withheld == 6 - sounded


@pytest.mark.parametrize(("gap_s", "cue"), [(1.0, True), (1.001, False)])
def test_the_gap_is_exact(drill, landing, gap_s, cue):
    policy = policy_for(drill, least_gap_s=gap_s)
    assert policy.landing(landing(1.0), "ahead", 1.1) is not None
    assert (policy.landing(landing(2.0), "ahead", 2.1) is not None) == cue
    assert policy.withheld == (0 if cue else 1)


def test_a_message_is_not_cut_off_by_a_correction(drill, landing):
    policy = policy_for(drill)
    policy.message(1.0)
    asked_s = [1.1, 1.5, 2.0, 2.5, 2.7]  # it sounds for a second, then comes the gap of 0.6 s
    cued = [policy.landing(landing(t - 0.1), "ahead", t) is not None for t in asked_s]
    assert cued == [False, False, False, False, True]
    assert policy.withheld == 4


def test_what_is_silent_for_another_reason_was_not_withheld(drill, run):
    for feedback in ("off", "summary"):
        policy = policy_for(drill, feedback)
        play(policy, run, ["ahead"] * 20)
        assert policy.withheld == 0
    fading = policy_for(drill, "fading", least_gap_s=0.0)
    play(fading, run, ["ahead"] * 40)
    assert fading.withheld == 0
    paused = policy_for(drill)
    play(paused, run, ["ahead"] * 20, paused=True)
    assert paused.withheld == 0


def test_the_gap_holds_over_the_change_of_drill(drill, landing):
    policy = policy_for(drill)
    assert policy.landing(landing(1.0), "ahead", 1.1) is not None
    policy.start_drill(drill(), 1.2)
    assert policy.landing(landing(1.33), "ahead", 1.43) is None


def test_before_a_drill_and_at_rest_nothing_sounds(drill, landing):
    policy = FeedbackPolicy()
    assert policy.landing(landing(), "ahead", 1.0) is None
    assert policy.sentence(1.0) is None
    policy.start_drill(drill(kind="rest"), 2.0)
    assert policy.landing(landing(), "ahead", 3.0) is None


def test_praise_comes_once_after_a_correction_was_put_right(drill, run):
    within = ["within"] * 40
    assert set(play(policy_for(drill), run, within)) == {None}  # nothing to put right
    kinds = play(policy_for(drill), run, ["ahead", *within])
    assert [i for i, kind in enumerate(kinds) if kind == "praise"] == [12]


def test_a_landing_ahead_begins_the_run_anew_and_an_unjudged_one_does_not(drill, run):
    broken = ["ahead", *["within"] * 11, "ahead", *["within"] * 12]
    assert play(policy_for(drill), run, broken).index("praise") == 24
    blind = ["ahead", *["within", None] * 12]
    assert play(policy_for(drill), run, blind).index("praise") == 23


def test_praise_is_rare(drill, run):
    again = ["ahead", *["within"] * 12] * 10  # 43 s
    kinds = play(policy_for(drill), run, again)
    at_s = [i * STEP_S for i, kind in enumerate(kinds) if kind == "praise"]
    assert len(at_s) == 2
    assert at_s[1] - at_s[0] >= 20.0


@pytest.mark.parametrize("feedback", ["off", "summary"])
@FEW
@given(verdicts=st.lists(VERDICTS, max_size=60))
def test_no_sound_with_feedback_off_or_summary(run, feedback, verdicts):
    policy = FeedbackPolicy()
    policy.start_drill(Drill("A", seconds=60.0, feedback=feedback), 0.0)
    assert set(play(policy, run, verdicts)) <= {None}


@FEW
@given(verdicts=st.lists(VERDICTS, max_size=60))
def test_no_sound_and_no_memory_while_paused(run, verdicts):
    policy = FeedbackPolicy()
    policy.start_drill(Drill("A", seconds=60.0), 0.0)
    assert set(play(policy, run, verdicts, paused=True)) <= {None}
    assert set(play(policy, run, ["within"] * 20)) == {None}  # no praise for what it did not see


@FEW
@given(verdicts=st.lists(VERDICTS, min_size=1, max_size=300))
def test_cues_are_never_closer_than_the_gap(run, verdicts):
    policy = FeedbackPolicy()
    policy.start_drill(Drill("A", seconds=60.0), 0.0)
    at_s = [i * STEP_S for i, kind in enumerate(play(policy, run, verdicts)) if kind]
    assert all(b - a >= 0.6 - 1e-6 for a, b in itertools.pairwise(at_s))


@FEW
@given(verdicts=st.lists(VERDICTS, min_size=40, max_size=400), gap_s=st.sampled_from([0.0, 0.6]))
def test_fading_never_rises_and_repeats_itself(run, verdicts, gap_s):
    """Between cues lie ever more landings ahead that stay uncued, whatever the runner does."""

    def cued():
        policy = FeedbackPolicy(FeedbackRule(least_gap_s=gap_s, praise_after=10_000))
        policy.start_drill(Drill("A", seconds=60.0, feedback="fading"), 0.0)
        return play(policy, run, verdicts)

    kinds = cued()
    assert kinds == cued()
    aheads = [k for k, v in zip(kinds, verdicts, strict=True) if v == "ahead"]
    if aheads:
        assert aheads[0] == "ahead"
    if gap_s:
        return  # the gap takes cues away, as the verdicts fall
    places = [i for i, kind in enumerate(aheads) if kind == "ahead"]
    gaps = [b - a for a, b in itertools.pairwise(places)]
    assert gaps == sorted(gaps)


def test_fading_thins_from_all_to_under_a_quarter(drill, run):
    policy = policy_for(drill, "fading", least_gap_s=0.0)
    kinds = play(policy, run, ["ahead"] * 300)
    shares = [kinds[i : i + 60].count("ahead") / 60 for i in range(0, 300, 60)]
    assert shares[0] == 1.0
    assert shares[-1] < 0.25
    assert shares == sorted(shares, reverse=True)


@FEW
@given(shares=st.lists(st.floats(0.0, 1.0), min_size=2, max_size=20))
def test_the_fading_interval_never_falls(shares):
    intervals = [fading_interval(share) for share in sorted(shares)]
    assert intervals == sorted(intervals)
    assert intervals[0] >= 1


def test_a_fading_drill_does_not_go_back_a_stage(drill, landing):
    """A step count may be corrected downwards; the cues must not come back for it."""
    policy = policy_for(drill, "fading", least_gap_s=0.0)
    shares = [0.9, *[0.1] * 9]
    cued = [
        policy.landing(landing(float(i)), "ahead", i + 0.1, share_done=share) is not None
        for i, share in enumerate(shares)
    ]
    assert [i for i, was in enumerate(cued) if was] == [0, 5]
