"""The mastery gate: each leg, the rate, and a last part without cues."""

from __future__ import annotations

import math

import pytest

from station.coach.mastery import Mastery
from station.coach.plan import Gate

GATE = Gate(0.9, 30.0, landings=20, uncued_seconds=10.0, rate_off=0.03)
STEP_S = 1.0 / 3.0


def go(mastery, until_s, verdict_of=None, *, since_s=0.0, rate_spm=180.0, target_spm=180.0):
    """Take alternating landings and return every turn with its time."""
    turns = []
    for i in range(math.ceil(since_s / STEP_S), int(until_s / STEP_S)):
        at_s, side = i * STEP_S, ("left", "right")[i % 2]
        verdict = "within" if verdict_of is None else verdict_of(at_s, side)
        mastery.add(i, at_s, side, verdict, rate_spm, target_spm)
        turn = mastery.turn(at_s)
        if turn is not None:
            turns.append((round(at_s, 1), turn))
    return turns


def test_all_but_the_last_part_with_cues_then_the_proof_then_mastery():
    mastery = Mastery(GATE)
    assert go(mastery, 19.9) == []
    assert not mastery.proving
    assert go(mastery, 29.0, since_s=19.9) == [(20.0, "proving")]
    assert mastery.proving
    assert go(mastery, 31.0, since_s=29.0)[0] == (30.0, "mastered")


@pytest.mark.parametrize("bad", ["left", "right"])
def test_one_leg_alone_is_not_enough(bad):
    assert go(Mastery(GATE), 300.0, lambda t, side: "ahead" if side == bad else "within") == []


@pytest.mark.parametrize("verdict", [None, "ahead"])
def test_a_leg_that_cannot_be_judged_never_meets_it(verdict):
    assert go(Mastery(GATE), 300.0, lambda t, side: verdict if side == "left" else "within") == []


def test_too_few_landings_prove_nothing():
    mastery = Mastery(Gate(0.9, 30.0, landings=47, uncued_seconds=10.0))  # 45 or 46 of each leg
    assert "mastered" not in [turn for _, turn in go(mastery, 300.0)]
    enough = Mastery(Gate(0.9, 30.0, landings=45, uncued_seconds=10.0))
    assert go(enough, 31.0)[1] == (30.0, "mastered")


@pytest.mark.parametrize(
    ("rate_spm", "target_spm", "met"),
    [(175.0, 180.0, True), (174.0, 180.0, False), (186.0, 180.0, False), (None, 180.0, False),
     (150.0, None, True)],
)  # fmt: skip
def test_the_rate_is_held_where_there_is_a_target(rate_spm, target_spm, met):
    """3 % of 180 is 5.4 steps per minute."""
    turns = go(Mastery(GATE), 100.0, rate_spm=rate_spm, target_spm=target_spm)
    assert ("mastered" in [turn for _, turn in turns]) is met


def test_who_needs_the_cues_loses_the_proof_and_gets_them_back_for_as_long():
    """Within with cues, ahead without: never mastered, and half the time at least has cues."""
    mastery = Mastery(GATE)
    turns = []
    for i in range(900):
        at_s, side = i * STEP_S, ("left", "right")[i % 2]
        mastery.add(i, at_s, side, "ahead" if mastery.proving else "within", 180.0, 180.0)
        turn = mastery.turn(at_s)
        if turn is not None:
            turns.append((at_s, turn))
    assert {turn for _, turn in turns} == {"proving", "proof failed"}
    assert mastery.proofs_failed >= 5
    lost = [t for t, turn in turns if turn == "proof failed"]
    begun = [t for t, turn in turns if turn == "proving"]
    # the fifth miss of one leg at the latest tells that 10 % of its 15 is out of reach
    assert all(end - start < 4.0 for start, end in zip(begun, lost, strict=False))
    assert all(start - end >= 10.0 - 1e-9 for end, start in zip(lost, begun[1:], strict=False))


def test_a_gate_without_an_uncued_part_is_met_at_once():
    mastery = Mastery(Gate(0.9, 10.0, landings=10, uncued_seconds=0.0))
    assert go(mastery, 11.0)[0] == (10.0, "mastered")


def test_a_gate_that_is_all_proof_begins_with_it():
    mastery = Mastery(Gate(0.9, 10.0, landings=10, uncued_seconds=30.0))
    assert go(mastery, 10.5) == [(0.0, "proving"), (10.0, "mastered")]


def test_a_dive_onto_the_toes_found_later_is_no_good_landing():
    mastery = Mastery(GATE)
    turns = []
    for i in range(600):
        at_s, side = i * STEP_S, ("left", "right")[i % 2]
        mastery.add(i, at_s, side, "within", 180.0, 180.0)
        if i % 6 == 0:  # a third of one leg's
            mastery.spoil(i)
        turns.append(mastery.turn(at_s))
    assert set(turns) == {None}


def test_what_is_left_behind_does_not_count():
    mastery = Mastery(GATE)
    go(mastery, 60.0, lambda t, side: "ahead")
    turns = go(mastery, 100.0, since_s=60.0)
    # 90 % of the 20 s before the proof is within from 78 s on at the earliest; the whole gate's
    # 30 s are 90 % within at its end
    assert turns[0][1] == "proving"
    assert 78.0 <= turns[0][0] <= 80.0
    assert turns[1][1] == "mastered"
    assert turns[1][0] == pytest.approx(turns[0][0] + 10.0, abs=0.4)
    assert mastery.leg("left", 100.0)[0] <= 45
