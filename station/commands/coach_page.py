"""Makes a session's coach's page: its server, its address, and the visits that it lists."""

from __future__ import annotations

import socket
import time
from collections.abc import Mapping

from station.coach.words import Words
from station.errors import StationError
from station.keep import Place
from station.live.coach_page import CoachPage, PageServer
from station.values import Bay

MOST_VISITS = 20


def coach_page(
    bay: Bay,
    words: Words,
    place: Place | None = None,
    runner: str | None = None,
    allowed: frozenset[str] | None = None,
) -> CoachPage:
    """Return a session's page; it listens where the bay's profile says so, else after a key.

    Args:
        bay: Says whether, where and in which language.
        words: Of that language.
        place: Where the records are; None: no visits are listed.
        runner: Whose visits are listed; None: nobody's.
        allowed: Keys that pages may press; None: all that they have.
    """

    def visits() -> list[Mapping[str, str]]:
        return [] if place is None or runner is None else visits_of(place, runner)

    def make() -> PageServer:
        from station.page.server import CoachPageServer

        return CoachPageServer(
            words.page, visits, time.monotonic, bay.coach_page_host, bay.coach_page_port
        )

    page = CoachPage(make, lambda: address_of(bay), words, allowed)
    if bay.coach_page:
        page.toggle()
    return page


def visits_of(place: Place, runner: str) -> list[Mapping[str, str]]:
    """Return a runner's visits as texts, newest first; none where the records do not answer."""
    from station.keep.store import Records, Wanted

    try:
        with Records(place) as records:
            lines = records.visits(Wanted(runner=runner, most=MOST_VISITS))
    except StationError:
        return []
    return [
        {
            "began": f"{one.began.astimezone():%Y-%m-%d %H:%M}",
            "plan": one.plan,
            "minutes": f"{one.running_s / 60.0:.1f} min",
            "within": "" if one.share_within is None else f"{100.0 * one.share_within:.0f} %",
        }
        for one in lines
    ]


def address_of(bay: Bay) -> str:
    """Return the address that a device on the same network opens."""
    host = bay.coach_page_host
    return f"http://{own_address() if host in ('', '0.0.0.0') else host}:{bay.coach_page_port}"


def own_address() -> str:
    """Return this machine's address in its network; `localhost` where it has none.

    The system is asked which of its addresses it would use for a far one (TEST-NET-1, RFC 5737);
    nothing is sent.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        try:
            asking.connect(("192.0.2.1", 9))
            return str(asking.getsockname()[0])
        except OSError:
            return "localhost"
