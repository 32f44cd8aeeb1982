from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.coach.corrections import ORDER, CorrectionRule, Corrections
from station.coach.feedback import FeedbackPolicy, FeedbackRule, fading_interval
from station.coach.overload import OverloadRule
from station.coach.plan import Drill
from station.coach.posture_watch import PostureRule
from station.coach.scene import Sentence
from station.coach.sentences import SentenceRule
from station.values import Belt, Cue, Step

VERDICTS = st.sampled_from(["within", "ahead", None])
STEP_S = 1 / 3
NEVER_TOO_MUCH = OverloadRule(share=1.0)
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
    assert policy.dropped_by_gap == 6 - sounded


@pytest.mark.parametrize(("gap_s", "cue"), [(1.0, True), (1.001, False)])
def test_the_gap_is_exact(drill, landing, gap_s, cue):
    policy = policy_for(drill, least_gap_s=gap_s)
    assert policy.landing(landing(1.0), "ahead", 1.1) is not None
    assert (policy.landing(landing(2.0), "ahead", 2.1) is not None) == cue
    assert policy.dropped_by_gap == (0 if cue else 1)


def test_a_message_is_not_cut_off_by_a_correction(drill, landing):
    policy = policy_for(drill)
    policy.message(1.0)
    asked_s = [1.1, 1.5, 2.0, 2.5, 2.7]  # it sounds for a second, then comes the gap of 0.6 s
    cued = [policy.landing(landing(t - 0.1), "ahead", t) is not None for t in asked_s]
    assert cued == [False, False, False, False, True]
    assert policy.dropped_by_gap == 4


def test_what_is_silent_for_another_reason_was_not_withheld(drill, run):
    for feedback in ("off", "summary"):
        policy = policy_for(drill, feedback)
        play(policy, run, ["ahead"] * 20)
        assert policy.dropped_by_gap == 0
    fading = policy_for(drill, "fading", least_gap_s=0.0)
    play(fading, run, ["ahead"] * 40)
    assert fading.dropped_by_gap == 0
    paused = policy_for(drill)
    play(paused, run, ["ahead"] * 20, paused=True)
    assert paused.dropped_by_gap == 0


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


def fading(run, verdicts, gap_s):
    rule = FeedbackRule(least_gap_s=gap_s, praise_after=10_000, overload=NEVER_TOO_MUCH)
    policy = FeedbackPolicy(rule)
    policy.start_drill(Drill("A", seconds=60.0, feedback="fading"), 0.0)
    return play(policy, run, verdicts)


def cued_of_ahead(kinds, verdicts, first=0):
    """Return of each landing ahead, from one on, whether it was cued."""
    pairs = list(zip(kinds, verdicts, strict=True))[first:]
    return [kind == "ahead" for kind, verdict in pairs if verdict == "ahead"]


@FEW
@given(verdicts=st.lists(VERDICTS, min_size=40, max_size=400), gap_s=st.sampled_from([0.0, 0.6]))
def test_fading_never_rises_and_repeats_itself(run, verdicts, gap_s):
    """Between cues lie ever more landings ahead that stay uncued, whatever the runner does."""
    kinds = fading(run, verdicts, gap_s)
    assert kinds == fading(run, verdicts, gap_s)
    if gap_s:
        return  # the gap takes cues away, as the verdicts fall
    places = [i for i, cued in enumerate(cued_of_ahead(kinds, verdicts)) if cued]
    gaps = [b - a for a, b in itertools.pairwise(places)]
    assert gaps == sorted(gaps)


@FEW
@given(verdicts=st.lists(VERDICTS, min_size=20, max_size=400), gap_s=st.sampled_from([0.0, 0.6, 3]))
def test_at_the_end_of_fading_at_most_a_fifth_of_the_landings_ahead_is_cued(run, verdicts, gap_s):
    """At every landing of the last fifth, however few were ahead in it: never up to 25 %."""
    kinds = fading(run, verdicts, gap_s)
    first = -(-len(verdicts) * 4 // 5)
    cued = cued_of_ahead(kinds, verdicts, first)
    shares = [sum(cued[:n]) / n for n in range(1, len(cued) + 1)]
    assert all(share <= 0.2 for share in shares)


@pytest.mark.parametrize("gap_s", [0.0, 0.6])
def test_fading_thins_from_all_to_under_a_quarter(run, gap_s):
    kinds = fading(run, ["ahead"] * 300, gap_s)
    shares = [kinds[i : i + 60].count("ahead") / 60 for i in range(0, 300, 60)]
    if gap_s == 0.0:
        assert shares[0] == 1.0
    assert 0.0 < shares[-1] < 0.25
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
    assert [i for i, was in enumerate(cued) if was] == [7]


# --- silence, overload, the other leg -----------------------------------------------------------


@FEW
@given(verdicts=st.lists(VERDICTS, min_size=1, max_size=80))
def test_silence_is_silence(run, verdicts):
    """No cue, no praise, no correction, and no memory of it: the runner proves what is kept."""
    policy = FeedbackPolicy()
    policy.start_drill(Drill("A", seconds=60.0), 0.0)
    play(policy, run, ["ahead"] * 6)
    assert set(play(policy, run, verdicts, start_s=3.0, silent=True)) == {None}
    at_s = 3.0 + len(verdicts) * STEP_S
    assert policy.sentence(at_s).tone == "calm"  # at once, though a correction stood there
    assert not policy.overloaded


def test_after_silence_feedback_comes_back(drill, run):
    policy = policy_for(drill)
    play(policy, run, ["ahead"] * 12, silent=True)
    assert play(policy, run, ["ahead"], start_s=5.0) == ["ahead"]
    assert policy.sentence(5.2).tone == "correction"


def test_cues_stop_where_more_than_half_are_ahead_for_twenty_seconds(drill, run):
    policy = policy_for(drill)
    kinds = play(policy, run, ["ahead", "ahead", "within"] * 30)  # 30 s, two of three ahead
    first_silent = round(20.0 / STEP_S)
    assert "ahead" in kinds[first_silent - 4 : first_silent]
    assert set(kinds[first_silent + 1 :]) == {None}
    assert policy.overloaded
    assert policy.sentence(30.0).key == "slower_or_rest"


@pytest.mark.parametrize("verdicts", [["ahead", "within"], ["ahead", "within", "within", None]])
def test_up_to_half_ahead_is_no_overload(drill, run, verdicts):
    policy = policy_for(drill)
    play(policy, run, verdicts * 90)
    assert not policy.overloaded


def test_overload_ends_when_the_landings_are_back_and_takes_twenty_seconds_anew(drill, run):
    policy = policy_for(drill)
    play(policy, run, ["ahead"] * 70)
    assert policy.overloaded
    over = []
    for i, landing in enumerate(run(60, start_s=70 * STEP_S)):
        policy.landing(landing, "within", landing.t_contact_s + 0.1)
        over.append((i, policy.overloaded))
    back = next(i for i, on in over if not on)
    assert 15 <= back <= 30  # a third ahead over ten seconds
    again = [
        policy.landing(x, "ahead", x.t_contact_s + 0.1) and policy.overloaded
        for x in run(59, start_s=130 * STEP_S)
    ]
    assert not any(again)


def test_overload_ends_with_the_drill(drill, run):
    policy = policy_for(drill)
    play(policy, run, ["ahead"] * 70)
    assert policy.overloaded
    policy.start_drill(drill(), 30.0)
    assert not policy.overloaded
    assert play(policy, run, ["ahead"], start_s=30.0) == ["ahead"]


def test_a_pause_begins_the_twenty_seconds_anew(drill, run):
    policy = policy_for(drill)
    play(policy, run, ["ahead"] * 45)  # 15 s
    play(policy, run, ["ahead"] * 45, start_s=120.0)
    assert not policy.overloaded


@pytest.mark.parametrize("feedback", ["off", "summary"])
def test_where_no_cue_sounds_none_stops(drill, run, feedback):
    policy = policy_for(drill, feedback)
    play(policy, run, ["ahead"] * 100)
    assert not policy.overloaded


def test_a_leg_that_is_not_answered_is_not_cued_corrected_or_counted(drill, run):
    policy = policy_for(drill)
    assert set(play(policy, run, ["ahead"] * 100, answered=False)) == {None}
    assert not policy.overloaded
    assert policy.sentence(40.0).key == "settle_in"
    summary = policy_for(drill, "summary")
    play(summary, run, ["ahead"] * 30, answered=False)
    assert summary.sentence(12.0).key == "settle_in"


# --- the median, and cues left out --------------------------------------------------------------


def test_a_cue_on_the_median_answers_the_second_of_three_and_no_landing_within(drill, landing):
    policy = FeedbackPolicy()
    policy.start_drill(drill(cue_on="median"), 0.0)

    def cues(side, verdicts, start_s):
        return [
            policy.landing(landing(start_s + i, side), verdict, start_s + i + 0.1) is not None
            for i, verdict in enumerate(verdicts)
        ]

    told = ["ahead", "within", "ahead", "within", "ahead", "within", "within", "ahead", "ahead"]
    want = [False, False, True, False, True, False, False, False, True]
    assert cues("right", told, 0.0) == want
    assert cues("left", ["ahead", "ahead", None, "ahead"], 20.0) == [False, False, False, True]


def test_a_single_landing_ahead_is_not_cued_by_the_median(drill, run):
    policy = FeedbackPolicy()
    policy.start_drill(drill(cue_on="median"), 0.0)
    verdicts = ["ahead" if i % 6 == 0 else "within" for i in range(120)]
    assert "ahead" not in play(policy, run, verdicts)
    assert policy.sentence(40.0).key == "steady"


def withheld(run, share, seed=0, count=900):
    rule = FeedbackRule(least_gap_s=0.0, overload=NEVER_TOO_MUCH, seed=seed)
    policy = FeedbackPolicy(rule)
    policy.start_drill(Drill("A", seconds=60.0, withhold=share), 0.0)
    flags = []
    for landing in run(count):
        cue = policy.landing(landing, "ahead", landing.t_contact_s + 0.1)
        assert (cue is None) == policy.withheld_last
        flags.append(policy.withheld_last)
    assert policy.withheld_at_random == sum(flags)
    return flags


@pytest.mark.parametrize("share", [0.0, 0.2, 0.5])
def test_the_share_of_withheld_cues_is_the_drills(run, share):
    flags = withheld(run, share)
    off = 4.0 * (share * (1.0 - share) / len(flags)) ** 0.5  # four standard errors
    assert abs(sum(flags) / len(flags) - share) <= off


def test_the_draw_is_seeded(run):
    assert withheld(run, 0.3, seed=5) == withheld(run, 0.3, seed=5)
    assert withheld(run, 0.3, seed=5) != withheld(run, 0.3, seed=6)


def test_a_withheld_cue_holds_the_gap_like_one_that_sounds(drill, run):
    """Else the next landing would be answered sooner in one of the two than in the other."""
    policy = FeedbackPolicy(FeedbackRule(overload=NEVER_TOO_MUCH))
    policy.start_drill(drill(withhold=0.5), 0.0)
    answered = []
    for landing in run(200):
        cue = policy.landing(landing, "ahead", landing.t_contact_s + 0.1)
        answered.append(cue is not None or policy.withheld_last)
    assert answered == [True, False] * 100


def test_toe_diving_blocks_praise_where_a_target_of_the_strike_is_set(drill, run):
    for changes, praised in (({}, True), ({"heel_settles": True}, False)):
        policy = FeedbackPolicy()
        policy.start_drill(drill(**changes), 0.0)
        kinds = []
        for landing, verdict in zip(run(40), ["ahead", *["within"] * 39], strict=True):
            t_s = landing.t_contact_s + 0.1
            cue = policy.landing(landing, verdict, t_s)
            kinds.append(cue.kind if cue else None)
            step = Step(landing.number, landing.side, True, landing.t_contact_s, t_s, toe_dive=True)
            policy.step(step, None)
        assert ("praise" in kinds) == praised


# --- whatever comes: one sentence, in the order -------------------------------------------------

PLACE = {
    "quicker_steps": 0, "slower_steps": 0,
    "reach_less": 1, "reach_less_left": 1, "reach_less_right": 1,
    "lift_knees": 1, "lift_knee_left": 1, "lift_knee_right": 1,
    "lean_more": 2, "lean_less": 2, "lean_from_ankles": 2,
    "land_forefoot": 3, "land_midfoot": 3, "let_heel_settle": 4, "less_bounce": 5,
}  # fmt: skip
TURN = st.tuples(
    VERDICTS,
    st.sampled_from([150.0, 178.0, 180.0, 200.0]),
    st.sampled_from(["rearfoot", "midfoot", "forefoot", "unsure"]),
    st.booleans(),  # toe dive
    st.sampled_from([0.0, 6.0, 15.0]),  # body lean
    st.sampled_from([0.08, 0.13]),  # bounce
    st.sampled_from(["", "", "", "", "paused", "silent"]),
)


@settings(max_examples=60, deadline=None)
@given(
    kind=st.sampled_from(["run", "hop", "lean"]),
    feedback=st.sampled_from(["every step", "fading", "summary", "off"]),
    target=st.sampled_from([None, "forefoot", "midfoot"]),
    heel=st.booleans(),
    cue_on=st.sampled_from(["landing", "median"]),
    withhold=st.sampled_from([0.0, 0.4]),
    blocks=st.lists(st.tuples(TURN, st.integers(1, 40)), min_size=1, max_size=12),
)
def test_one_sentence_in_the_fixed_order_and_no_cue_where_none_may_be(
    run, kind, feedback, target, heel, cue_on, withhold, blocks
):
    posture = PostureRule(bounce_change_m=0.01)
    words = SentenceRule(corrections=CorrectionRule(posture=posture))
    policy = FeedbackPolicy(FeedbackRule(sentence=words))
    belt = Belt(3.0)
    alone = Drill("Alone", belt_speed_mps=3.0, seconds=60.0, feedback="off", beat=False)
    policy.start_drill(alone, 0.0)
    for i in range(12):
        policy.step(Step(i, "right", True, 0.0, 0.1, vertical_oscillation_m=0.08), belt)
    drill = Drill(
        "A", kind, 3.0, seconds=60.0, feedback=feedback, strike_target=target, heel_settles=heel,
        cue_on=cue_on, withhold=withhold,
    )  # fmt: skip
    policy.start_drill(drill, 0.0)
    turns = [turn for turn, times in blocks for _ in range(times)]
    shown, since_s = None, 0.0
    for landing, turn in zip(run(len(turns)), turns, strict=True):
        verdict, rate_spm, strike, dive, lean_deg, bounce_m, state = turn
        t_s = landing.t_contact_s + 0.1
        landing = replace(landing, strike=strike, step_time_s=60.0 / rate_spm)
        paused, silent = state == "paused", state == "silent"
        cue = policy.landing(landing, verdict, t_s, target_spm=180.0, paused=paused, silent=silent)
        if cue is not None:
            assert feedback in ("every step", "fading")
            assert not paused
            assert not silent
            assert not policy.overloaded
            assert (cue.kind == "ahead") == (verdict == "ahead")
        if not paused:
            step = Step(
                landing.number, landing.side, landing.near, landing.t_contact_s, t_s,
                body_lean_deg=lean_deg, trunk_lean_deg=5.0, vertical_oscillation_m=bounce_m,
                strike=strike, toe_dive=dive,
            )  # fmt: skip
            policy.step(step, belt)
        sentence = policy.sentence(t_s)
        assert isinstance(sentence, Sentence)  # one, never none, never two
        if sentence != shown and shown is not None and sentence.key != shown.key:
            assert silent or t_s - since_s >= 2.0 - 1e-9  # never flickering
            since_s = t_s
        if sentence.key in PLACE:
            assert feedback in ("every step", "fading")
            assert not silent
            assert kind == "lean" or not sentence.key.startswith("lean_")
            assert target is not None or not sentence.key.startswith("land_")
            assert heel or target is not None or sentence.key != "let_heel_settle"
        if sentence.key in PLACE and (shown is None or shown.key != sentence.key):
            # Newly chosen: it is the first of all that is called for.
            assert sentence.key == policy.correction
            assert not policy.overloaded
        shown = sentence


def test_what_is_called_for_is_told_in_the_order(drill, run):
    corrections = Corrections(CorrectionRule())
    corrections.start_drill(drill(kind="lean", strike_target="forefoot", heel_settles=True))
    for i, landing in enumerate(run(20, rate_spm=150.0)):
        cue = Cue("ahead", landing.t_contact_s, landing.side)
        struck = replace(landing, strike="rearfoot")
        corrections.landing(struck, "ahead", 180.0, cue, True)
        corrections.step(Step(i, "right", True, 0.0, 0.1, body_lean_deg=0.0, toe_dive=True), None)
    assert tuple(corrections.called_for()) == ORDER[:-1]
    assert list(corrections.called_for().values()) == [
        "quicker_steps", "reach_less", "lean_more", "land_forefoot", "let_heel_settle",
    ]  # fmt: skip


def test_safety_goes_before_everything_at_once(drill, run):
    policy = policy_for(drill)
    play(policy, run, ["ahead"] * 6)
    assert policy.sentence(2.0).tone == "correction"
    policy.warn("tired")
    assert policy.sentence(2.1) == Sentence("tired", "warning")
    policy.warn(None)
    assert policy.sentence(4.2).key != "tired"
