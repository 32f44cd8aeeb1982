"""What several threads are done with comes out in the order in which it was begun."""

import itertools

import pytest

from station.live.in_turn import InTurn


@pytest.mark.parametrize("order", list(itertools.permutations(range(4))))
def test_the_order_of_beginning_holds_whoever_is_done_first(order: tuple[int, ...]) -> None:
    given: list[int] = []
    line = InTurn(given.append, most_held=4)
    assert [line.begin() for _ in range(4)] == [0, 1, 2, 3]
    for number, place in enumerate(order):
        line.done(place, place)
        done = set(order[: number + 1])
        # given is what has nothing unfinished before it, and that at once
        assert given == [p for p in range(4) if set(range(p + 1)) <= done]
    assert line.given_up == 0


def test_one_that_never_comes_is_given_up_when_too_many_wait() -> None:
    given: list[int] = []
    line = InTurn(given.append, most_held=3)
    for place in range(8):
        assert line.begin() == place
    for place in (2, 3, 4):
        line.done(place, place)
    assert given == []
    line.done(5, 5)  # 0 and 1 have held up four by now
    assert given == [2, 3, 4, 5]
    assert line.given_up == 2
    line.done(1, 1)  # too late
    line.done(6, 6)
    assert given == [2, 3, 4, 5, 6]
    assert line.given_up == 2
