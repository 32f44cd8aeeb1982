"""Shares of landings, and when one may be called higher than another."""

from __future__ import annotations

import random

import pytest

from station.coach.share_change import Share, compare_shares, share_of


def test_wilson_s_interval() -> None:
    """8 of 10 gives 0.49 to 0.94: Wilson 1927, recomputed by hand."""
    low, high = Share(8, 10, 10.0).interval
    assert (low, high) == (pytest.approx(0.4902, abs=1e-4), pytest.approx(0.9433, abs=1e-4))
    assert Share(0, 12, 12.0).interval[0] == 0.0
    assert Share(12, 12, 12.0).interval[1] == 1.0


def test_newcombe_s_interval() -> None:
    """56 of 70 against 48 of 80: 0.2 (0.0524 to 0.3339), Newcombe 1998, Stat Med 17:873-890, method
    10 (from memory)."""
    change = compare_shares(Share(48, 80, 80.0), Share(56, 70, 70.0))
    assert change is not None
    assert change.difference == pytest.approx(0.2)
    assert (change.low, change.high) == (
        pytest.approx(0.0524, abs=2e-4),
        pytest.approx(0.3339, abs=2e-4),
    )
    assert change.verdict == "rose"


@pytest.mark.parametrize(
    ("before", "after", "verdict"),
    [
        ((10, 19), (40, 40), "too few"),
        ((40, 40), (10, 19), "too few"),
        ((10, 40), (35, 40), "rose"),
        ((35, 40), (10, 40), "fell"),
        ((22, 40), (25, 40), "unsure"),
        ((900, 1000), (905, 1000), "same"),
    ],
)
def test_what_is_said_of_two_shares(
    before: tuple[int, int], after: tuple[int, int], verdict: str
) -> None:
    change = compare_shares(*(Share(k, n, float(n)) for k, n in (before, after)))
    assert change is not None
    assert change.verdict == verdict


def test_a_missing_share_is_compared_with_nothing() -> None:
    assert share_of([]) is None
    assert compare_shares(None, Share(1, 1, 1.0)) is None


def test_landings_that_follow_each_other_are_worth_less() -> None:
    draw = random.Random(3)
    by_lot = share_of([draw.random() < 0.5 for _ in range(400)])
    in_blocks = share_of([(i // 20) % 2 == 0 for i in range(400)])
    one_by_one = share_of([i % 2 == 0 for i in range(400)])
    assert by_lot is not None
    assert in_blocks is not None
    assert one_by_one is not None
    assert by_lot.worth > 330
    assert in_blocks.worth < 40
    assert one_by_one.worth == 400  # never more than there are
    assert in_blocks.interval[0] < by_lot.interval[0] < by_lot.share


def test_a_claim_of_a_rise_is_seldom_wrong() -> None:
    """Where nothing changed about 5 % are called a change, sticky landings or not."""
    draw = random.Random(7)

    def run(count: int, sticks: float) -> list[bool]:
        made = [draw.random() < 0.6]
        while len(made) < count:
            made.append(made[-1] if draw.random() < sticks else draw.random() < 0.6)
        return made

    for sticks in (0.0, 0.4):
        pairs = (
            compare_shares(share_of(run(80, sticks)), share_of(run(120, sticks)))
            for _ in range(400)
        )
        wrong = sum(one is not None and one.verdict in ("rose", "fell") for one in pairs)
        assert wrong / 400 <= 0.07, sticks
