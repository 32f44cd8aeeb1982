"""Who may use the coach's page, and what it may ask for; time is moved by hand."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from station.page.joining import ATTEMPTS, MOST_DEVICES, SHUT_S, Joining
from station.page.origin import from_the_page, own_host
from station.page.pressing import BURST, KEYS, LONGEST, Pace, Presses, asked


class Time:
    def __init__(self) -> None:
        self.now_s = 100.0

    def __call__(self) -> float:
        return self.now_s


def wrong(joining: Joining) -> str:
    return f"{(int(joining.code) + 1) % 1_000_000:06d}"


def test_a_code_lets_one_device_in() -> None:
    joining = Joining(Time())
    code = joining.code
    secret = joining.join(f" {code[:3]} {code[3:]} ")
    assert joining.knows(secret)
    assert joining.code != code
    assert joining.join(code) is None
    assert joining.devices == 1
    assert secret is not None
    joining.leave(secret)
    assert not joining.knows(secret)
    assert not joining.knows(None)


def test_wrong_codes_shut_the_door_and_change_the_code() -> None:
    now = Time()
    joining = Joining(now)
    code = joining.code
    for _ in range(ATTEMPTS):
        assert joining.join(wrong(joining)) is None
    assert joining.code != code
    assert joining.join(joining.code) is None, "the right one neither, while it is shut"
    now.now_s += SHUT_S - 0.1
    assert joining.shut_s == pytest.approx(0.1)
    now.now_s += 0.2
    assert joining.join(joining.code) is not None


def test_a_right_code_forgives_the_wrong_ones() -> None:
    joining = Joining(Time())
    for _ in range(3):
        for _ in range(ATTEMPTS - 1):
            joining.join(wrong(joining))
        assert joining.join(joining.code) is not None


def test_there_is_room_for_so_many_devices() -> None:
    joining = Joining(Time())
    for _ in range(MOST_DEVICES):
        assert joining.join(joining.code) is not None
    assert joining.join(joining.code) is None


@pytest.mark.parametrize("code", ["", "1", "\u0661\u0662\u0663\u0664\u0665\u0666", "0" * 60])
def test_what_is_no_code_is_refused(code: str) -> None:
    assert Joining(Time()).join(code) is None


@pytest.mark.parametrize("key", sorted(KEYS))
def test_every_key_of_the_page_is_understood(key: str) -> None:
    assert asked(json.dumps({"press": key})) == key


@given(st.text(max_size=60) | st.binary(max_size=60) | st.dictionaries(
    st.sampled_from(["press", "x"]), st.none() | st.integers() | st.text(max_size=8) | st.lists(
        st.sampled_from(sorted(KEYS)), max_size=2), max_size=2).map(json.dumps))  # fmt: skip
def test_whatever_else_comes_asks_for_nothing(message: str | bytes) -> None:
    key = asked(message)
    assert key is None or json.loads(message) == {"press": key}


@pytest.mark.parametrize(
    "message",
    ['{"press":"quit"}',
     '{"press":"help"}', '{"press":"page"}', '{"press":["next"]}', "[" * LONGEST,
     '{"press":"next","press2":1}', '{"press":"next"}' + " " * LONGEST],
)  # fmt: skip
def test_what_is_not_on_the_page_is_not_asked_for(message: str) -> None:
    assert asked(message) is None


def test_presses_come_as_fast_as_thumbs_go() -> None:
    pace = Pace()
    assert sum(pace.lets(5.0) for _ in range(100)) == BURST
    assert sum(pace.lets(5.0 + 0.01 * n) for n in range(1, 101)) == pytest.approx(10, abs=1)


def test_presses_wait_in_order_and_have_a_bound() -> None:
    presses = Presses()
    for number in range(Presses.MOST + 3):
        presses.put(str(number))
    assert presses.dropped == 3
    assert presses.take()[0] == "3"
    assert presses.take() == ()


@pytest.mark.parametrize(
    ("host", "own"),
    [("127.0.0.1:8737", True), ("192.168.1.20", True), ("[::1]:8737", True), ("localhost:1", True),
     ("station.evil.example:8737", False), ("", False), (None, False), ("[", False)],
)  # fmt: skip
def test_only_names_of_this_machine_are_answered(host: str | None, own: bool) -> None:
    try:
        assert own_host(host) is own
    except ValueError:
        pytest.fail("a bad Host must be refused, not raise")


@pytest.mark.parametrize(
    ("origin", "good"),
    [("http://10.0.0.5:8737", True), ("https://10.0.0.5:8737", True), ("http://10.0.0.5", False),
     ("http://evil.example", False), ("null", False), (None, False), ("file://", False)],
)  # fmt: skip
def test_only_the_page_itself_may_speak(origin: str | None, good: bool) -> None:
    headers = {"host": "10.0.0.5:8737"} | ({} if origin is None else {"origin": origin})
    assert from_the_page(headers) is good
