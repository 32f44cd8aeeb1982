"""The coach's page beside a session: keys in, states out, a code on the screen; no network."""

from __future__ import annotations

import json
from collections.abc import Sequence

import pytest
from fake_page import FakePageServer
from loop_parts import Bench

from station.live.coach_page import EVERY_S, LANDINGS, CoachPage
from station.settings import read_words

WORDS = read_words("en")


class Paged:
    """A bench whose page is pressed at frames of the source."""

    def __init__(
        self,
        presses: dict[int, Sequence[str]] | None = None,
        server: FakePageServer | None = None,
        frames: int = 60,
        keys: dict[int, Sequence[str]] | None = None,
        on: bool = True,
    ) -> None:
        self.server = server or FakePageServer()
        self.page = CoachPage(lambda: self.server, lambda: "http://10.0.0.5:8737", WORDS)
        self.bench = Bench(frames, keys=keys)
        presses = presses or {}
        self.bench.source.before = lambda index: self.server.keys.extend(presses.get(index, ()))
        if on:
            self.page.toggle()

    def run(self) -> None:
        self.bench.run(page=self.page)


def test_a_page_presses_the_keys_of_the_keyboard() -> None:
    paged = Paged({20: ["rate_up"], 30: ["pause"]})
    paged.run()
    assert paged.bench.coaching.target_spm == 151.0
    assert paged.bench.progress.paused
    said = [state["said"] for state in paged.server.states if "said" in state]
    assert said[0] == "Step rate 151"
    assert paged.server.states[-1]["paused"] is True


def test_every_landing_is_told_at_once_and_times_now_and_then() -> None:
    paged = Paged(frames=80)
    paged.run()
    states = paged.server.states
    landings = paged.bench.session.scenes.landings
    assert landings > LANDINGS
    told = {state["first"] + len(state["landings"]) for state in states}
    assert told >= set(range(1, landings + 1)), "none was left to be told with the next"
    assert len(states) <= landings + 8.0 / EVERY_S + 2
    last = states[-1]["landings"]
    assert len(last) == LANDINGS
    assert {mark["landing"] for mark in last} == {"ahead"}
    assert all(mark["over"] > 0 for mark in last)
    json.dumps(states, allow_nan=False)


def test_a_page_says_why_no_landing_is_judged() -> None:
    paged = Paged()
    paged.bench.session.disturbed = "learning_view"
    paged.run()
    told = [state["trouble"] for state in paged.server.states]
    assert told[-1] == WORDS.sentence("learning_view")
    assert told[0] == ""  # what is over at once is not worth a look
    assert all(state["amiss"] == [] for state in paged.server.states)


def test_a_page_tells_what_the_screen_tells_of_sound_and_pictures() -> None:
    paged = Paged()
    paged.bench.run(page=paged.page, notices=lambda: ("The sound is off",))
    assert paged.server.states[-1]["amiss"] == ["The sound is off"]


def test_figures_are_told_by_word_text_and_leg() -> None:
    paged = Paged()
    paged.run()
    rows = paged.server.states[-1]["rows"]
    assert rows[0] == {"label": "", "texts": ("left foot", "right foot"), "aside": ""}
    assert all(len(row["texts"]) in (1, 2) for row in rows)


def test_nothing_is_worked_out_while_nobody_has_joined() -> None:
    server = FakePageServer()
    server.devices = 0
    paged = Paged(server=server)
    paged.run()
    assert server.states == []


def test_the_screen_shows_where_and_the_code_while_it_is_on() -> None:
    paged = Paged(keys={10: ["page"], 30: ["page"]}, on=False)
    paged.run()
    shown = [
        any("482 913" in line for line in scene.notices) for scene in paged.bench.painter.scenes
    ]
    assert not any(shown[:9])
    assert any(shown[12:28])
    assert not any(shown[33:])
    assert not paged.server.running
    assert paged.server.stopped == 0, "a key in mid-run does not wait for pages to close"
    paged.page.stop()
    assert paged.server.stopped == 1


def test_a_page_whose_server_ended_by_itself_shows_no_code() -> None:
    paged = Paged()
    assert "482 913" in paged.page.notice[0]
    paged.server.running = False
    assert paged.page.notice == (WORDS.of_page("off"),)
    assert not paged.page.on


def test_a_port_that_is_taken_is_said_and_the_session_goes_on() -> None:
    paged = Paged(server=FakePageServer(taken=True))
    assert paged.page.notice == ("coach's page: the port is taken",)
    assert not paged.page.on
    paged.run()
    assert paged.bench.rows.rows
    paged.page.toggle()
    assert "taken" in paged.page.notice[0]


def test_in_a_bay_a_page_may_only_make_things_easier() -> None:
    paged = Paged({20: ["rate_up", "next", "rate_down"]})
    paged.page = CoachPage(
        lambda: paged.server, lambda: "", WORDS, allowed=frozenset({"rate_down"})
    )
    paged.page.toggle()
    paged.run()
    assert paged.bench.coaching.target_spm == 149.0
    assert paged.bench.progress.number == 1


def test_a_page_that_waits_says_so_and_rings_while_staff_are_called() -> None:
    server = FakePageServer()
    page = CoachPage(lambda: server, lambda: "", WORDS)
    page.wait(0.0)
    assert server.states == []
    page.toggle()
    server.keys = ["end"]
    page.wait(1.0)
    page.wait(1.1)
    assert [state["name"] for state in server.states] == [WORDS.of_page("waiting")]
    assert server.keys == []
    page.call = page.calling
    page.wait(1.2)
    assert server.states[-1]["call"] == WORDS.of_page("call")


@pytest.mark.parametrize("language", ["en", "de"])
def test_every_word_of_the_page_is_there(language: str) -> None:
    words = read_words(language)
    assert set(words.page) == set(WORDS.page)
    assert words.page["language"] == language


def test_a_page_that_stops_is_off() -> None:
    paged = Paged()
    assert paged.page.on
    paged.page.stop()
    paged.page.stop()
    assert not paged.page.on
    assert paged.page.notice == ()
