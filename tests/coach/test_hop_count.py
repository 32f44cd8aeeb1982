"""Hops by rounds, foot by foot: exact, whatever the camera and the runner get wrong."""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.coach.hop_count import HopCounter
from station.values import other

HOP_S = 0.4


def hop(counter, feet, start_s=0.0, gap_s=HOP_S):
    """Make evenly timed contacts, written as l and r; a dot is a hop that is not seen."""
    told, t_s = [], start_s
    for foot in feet:
        t_s += gap_s
        if foot != ".":
            side = "left" if foot == "l" else "right"
            told += [(note.kind, note.why) for note in counter.land(side, t_s)]
    return told


def test_it_says_which_foot_now_and_how_many_are_left():
    counter = HopCounter((3, 1), "right")
    seen = []
    for foot in "rrrlllr":
        status = counter.status
        seen.append((status.foot, status.hops_left, status.round, status.rounds))
        hop(counter, foot, 10.0 * len(seen))
    assert seen == [
        ("right", 3, 1, 2), ("right", 2, 1, 2), ("right", 1, 1, 2),
        ("left", 3, 1, 2), ("left", 2, 1, 2), ("left", 1, 1, 2),
        ("right", 1, 2, 2),
    ]  # fmt: skip
    assert counter.status.foot == "left"
    hop(counter, "l", 200.0)
    assert counter.done
    assert counter.status is None
    assert hop(counter, "rl", 300.0) == []
    assert counter.counted == 8


def test_a_hundred_rounds_are_counted_exactly():
    counter, rng = HopCounter((8, 4, 3, 2, 1) * 20, "left"), random.Random(3)
    t_s, right = 0.0, 0
    for count in (8, 4, 3, 2, 1) * 20:
        for foot in ("left", "right"):
            for i in range(count):
                status = counter.status
                right += (status.foot, status.hops_left) == (foot, count - i)
                t_s += HOP_S * rng.uniform(0.85, 1.15)
                assert counter.land(foot, t_s) == ()
    assert counter.done
    assert counter.counted == right == 720


@pytest.mark.parametrize(
    ("feet", "told", "counted"),
    [
        ("lrl", [("hop not counted", "wrong foot")], 2),
        ("lrrrl", [("hop not counted", "wrong foot")], 2),  # one note however long
        ("lrlrl", [("hop not counted", "wrong foot")] * 2, 3),
        ("lllr", [], 4),
        ("lllr.r", [], 5),  # a gap within a set is made up for only at the change of feet
        ("lllrr.l", [("hop not seen", "the feet changed after a gap")], 7),
        ("lll.rrl", [("hop not seen", "the feet changed after a gap")], 7),  # its first was lost
        ("lllr....l", [("hop not counted", "wrong foot")], 4),  # a runner who stopped
    ],
)
def test_what_the_runner_or_the_camera_gets_wrong(feet, told, counted):
    counter = HopCounter((3, 3), "left")
    assert hop(counter, feet) == told
    assert counter.counted == counted


def test_two_contacts_at_once_are_one_hop():
    counter = HopCounter((3,), "left")
    hop(counter, "l")
    assert [n.why for n in counter.land("right", HOP_S + 0.05)] == ["two contacts at once"]
    assert [n.why for n in counter.land("left", HOP_S + 0.1)] == ["two contacts at once"]
    hop(counter, "l", HOP_S)
    assert (counter.counted, counter.doubled, counter.wrong_foot) == (2, 2, 0)


def test_a_runner_who_stops_has_not_hopped_meanwhile():
    counter = HopCounter((4,), "left")
    hop(counter, "lll")
    assert [n.why for n in counter.land("right", 10.0)] == ["wrong foot"]
    assert counter.counted == 3


def test_a_pause_is_no_hop_that_was_not_seen():
    counter = HopCounter((4,), "left")
    hop(counter, "lll")
    counter.stand()
    assert [n.why for n in counter.land("right", 3 * HOP_S + 2 * HOP_S)] == ["wrong foot"]


def test_the_last_hop_that_was_not_seen_is_made_up_for_by_running_on():
    counter = HopCounter((4,), "left")
    hop(counter, "llllrrr")
    assert not counter.done
    notes = counter.land("left", 7 * HOP_S + 2 * HOP_S)
    assert [(n.kind, n.side) for n in notes] == [("hop not seen", "right")]
    assert counter.done
    assert counter.counted == 8


@settings(max_examples=60, deadline=None)
@given(
    hops=st.lists(st.integers(1, 9), min_size=1, max_size=8),
    first=st.sampled_from(["left", "right"]),
    seed=st.integers(0, 10_000),
    lost_share=st.floats(0.0, 0.08),
)
def test_the_count_is_exact_with_hops_lost_and_contacts_told_twice(hops, first, seed, lost_share):
    """One lost hop of a set at most, the first two of all seen (they show the pace)."""
    counter, rng = HopCounter(hops, first), random.Random(seed)
    t_s, made = 0.0, 0
    for count in hops:
        for foot in (first, other(first)):
            lost = rng.randrange(count) if count > 1 and rng.random() < lost_share * count else None
            for i in range(count):
                t_s += HOP_S * rng.uniform(0.9, 1.1)
                made += 1
                if i == lost and made > 6 and i > 0:
                    continue
                counter.land(foot, t_s)
                if rng.random() < 0.1:
                    counter.land(rng.choice(["left", "right"]), t_s + 0.08)
    # running goes on after it
    for _ in range(4):
        t_s += HOP_S
        counter.land(first, t_s)
        first = other(first)
    assert counter.done
    assert counter.counted == 2 * sum(hops)
