"""Puts the session before the coach's page, and the page's presses before the session's keys."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any, Protocol

from station.coach.figures import CoachFigures
from station.coach.scene import TrailMark
from station.coach.words import Words
from station.errors import DeviceTrouble
from station.live.controls import Controls
from station.live.session import Session
from station.show.coach_strip import strip_rows

EVERY_S = 0.2
"""How often a page is told of times and rates; a landing or an answer is told at once."""
LANDINGS = 16
"""Last landings of both feet that a page gets: a page that missed some states gets them all."""
AMISS = 4
"""So many lines at most tell of what is amiss beside a trouble."""
WAITING_S = 2.0
NONE = "\u2013"


class PageServer(Protocol):
    """Serves the page."""

    @property
    def running(self) -> bool:
        """Whether something listens."""
        ...

    @property
    def code(self) -> str:
        """To be typed on the next device."""
        ...

    @property
    def devices(self) -> int:
        """How many have joined."""
        ...

    def start(self) -> None:
        """Listen; raise DeviceTrouble where that is not possible."""
        ...

    def show(self, state: Mapping[str, Any]) -> None:
        """Give all pages a new state."""
        ...

    def pressed(self) -> tuple[str, ...]:
        """Return what pages have asked for since the last call."""
        ...

    def ask_to_stop(self) -> None:
        """Have it listen no more; never waits."""
        ...

    def stop(self) -> None:
        """Listen no more, and wait until it is so."""
        ...


class CoachPage:
    """The coach's page of one session. Used by the loop's thread; never waits for a page."""

    def __init__(
        self,
        make: Callable[[], PageServer],
        address: Callable[[], str],
        words: Words,
        allowed: frozenset[str] | None = None,
    ) -> None:
        """Begin without a page; nothing listens.

        Args:
            make: Makes a server that does not listen yet.
            address: Gives the address that a device is to open.
            words: Of the page, the strip and the answers.
            allowed: Keys that pages may press; None: all that they have.
        """
        self.call: str | None = None
        """What staff are called for, while they are; pages ring then."""
        self._allowed = allowed
        self._make, self._address, self._words = make, address, words
        self._server: PageServer | None = None
        self._ending: PageServer | None = None  # turned off, perhaps still closing its pages
        self._at = ""
        self._fault: str | None = None
        self._told_s = float("-inf")
        self._told: tuple[object, ...] = ()

    @property
    def on(self) -> bool:
        """Whether something listens."""
        return self._server is not None and self._server.running

    @property
    def calling(self) -> str:
        """The text with which pages call staff."""
        return self._say("call")

    @property
    def notice(self) -> tuple[str, ...]:
        """The line that the station's screen shows: where the page is, and the code."""
        if self._fault is not None:
            return (self._fault,)
        if self._server is None:
            return ()
        if not self._server.running:  # its thread has ended by itself
            return (self._say("off"),)
        return (self._say("join_at", **self.where),)

    @property
    def where(self) -> dict[str, str]:
        """The address, and the code for the next device; empty while the page is off."""
        if self._server is None:
            return {}
        return {"address": self._at, "code": spaced(self._server.code)}

    def toggle(self) -> None:
        """Turn the page on or off; pictures go on meanwhile.

        Only where it is turned on again at once, the old one's end is waited for: the port is its.
        """
        server, self._server, self._fault = self._server, None, None
        if server is not None:
            server.ask_to_stop()
            self._ending = server
            return
        self._await_ending()
        server = self._make()
        try:
            server.start()
        except DeviceTrouble as fault:
            self._fault = str(fault)
            return
        self._at = self._address()  # asked of the system once, not for every picture
        self._server, self._told_s = server, float("-inf")

    def stop(self) -> None:
        """Turn the page off and wait for its end; safe to repeat."""
        server, self._server, self._fault = self._server, None, None
        if server is not None:
            server.stop()
        self._await_ending()

    def _await_ending(self) -> None:
        ending, self._ending = self._ending, None
        if ending is not None:
            ending.stop()

    def turn(
        self,
        session: Session,
        controls: Controls,
        now_s: float,
        notices: Callable[[], tuple[str, ...]] = tuple,
    ) -> None:
        """Do what pages ask for, and tell them how things are.

        Args:
            session: What is told of.
            controls: Takes the presses, as it takes the keyboard's.
            now_s: Session clock.
            notices: Gives the lines of trouble that does not stop the session.
        """
        server = self._server
        if server is None:
            return
        for key in server.pressed():
            if self._allowed is None or key in self._allowed:
                controls.press(key, now_s)
        answer = controls.answer(now_s)
        news = (session.scenes.landings, answer, session.ended, self.call)
        if not server.devices or (news == self._told and now_s - self._told_s < EVERY_S):
            return
        self._told, self._told_s = news, now_s
        figures, trail = session.scenes.for_coach(session.observation, now_s)
        state = page_state(figures, trail, self._words)
        progress = session.coaching.progress
        trouble = session.scenes.trouble(session.observation, now_s)
        state |= {
            "trouble": "" if trouble is None else self._words.sentence(trouble),
            "amiss": [*notices(), *session.board.now][:AMISS],
            "paused": progress.paused,
            "feedback": progress.feedback_on,
            "sound": progress.sound_on,
            "waits": progress.belt_waits or progress.rest_asked,
            "call": self.call,
            "first": session.scenes.landings - len(state["landings"]),
        }
        if answer is not None:
            said = self._words.sentence(answer.key, **dict(answer.values))
            state |= {"said": said, "said_kind": answer.kind}
        server.show(state)

    def wait(self, now_s: float) -> None:
        """Tell pages that no session runs, now and then; what they press meanwhile is forgotten."""
        server = self._server
        if server is None:
            return
        server.pressed()
        news = ("waiting", self.call)
        if server.devices and (news != self._told or now_s - self._told_s >= WAITING_S):
            self._told, self._told_s = news, now_s
            server.show(waiting_state(self._words) | {"call": self.call})

    def _say(self, key: str, **values: str) -> str:
        return self._words.of_page(key, **values)


def spaced(code: str) -> str:
    """Return a code in two halves, to be read from afar."""
    half = len(code) // 2
    return f"{code[:half]} {code[half:]}"


def page_state(figures: CoachFigures, trail: Iterable[TrailMark], words: Words) -> dict[str, Any]:
    """Return what a page shows of the drill, as texts ready to read and marks ready to draw.

    Args:
        figures: The coach's.
        trail: Last landings, oldest first.
        words: Of the language.

    Returns:
        For JSON; a row's texts are one across or one for each leg. A landing's `over` is its shank
        angle minus the limit and its own error, degrees: over 0 is ahead; None: not known.
    """
    rows = strip_rows(figures, words)
    doing, figure_rows = rows[1], rows[2:]
    left, right = (_deg(leg.limit_deg) for leg in figures.legs)
    now = words.of_page("now")
    return {
        "place": f"{figures.number}/{figures.count}",
        "name": figures.name,
        "doing": f"{doing.label} {doing.aside}".strip(),
        "rate": NONE if figures.target_spm is None else f"{figures.target_spm:.0f}",
        "rate_now": f"{words.of_page('rate')}, {now}\u00a0{_whole(figures.rate_spm)}",
        "belt": figures.belt_asked or NONE,
        "belt_now": f"{words.label('belt')}, {now}\u00a0{figures.belt_measured or NONE}",
        "limit": f"{left} / {right}",
        "rows": [
            {"label": row.label, "texts": row.texts, "aside": row.aside} for row in figure_rows
        ],
        "landings": [
            {
                "side": mark.side,
                "landing": mark.verdict,
                "over": None if mark.over_limit_deg is None else round(mark.over_limit_deg, 2),
            }
            for mark in tuple(trail)[-LANDINGS:]
        ],
    }


def waiting_state(words: Words) -> dict[str, Any]:
    """Return what a page shows between two visits."""
    blank = dict.fromkeys(("place", "doing", "rate_now", "belt_now"), "")
    unknown = dict.fromkeys(("rate", "belt", "limit"), NONE)
    empty: dict[str, list[str]] = {"rows": [], "landings": [], "amiss": []}
    return {"name": words.of_page("waiting"), **empty, **blank, **unknown}


def _deg(value: float | None) -> str:
    return NONE if value is None else f"{value:.1f}\u00b0"


def _whole(value: float | None) -> str:
    return NONE if value is None else f"{value:.0f}"
