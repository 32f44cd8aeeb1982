"""The page's server on a real port: joining, states, presses, refusals, the end."""

from __future__ import annotations

import contextlib
import http.client
import json
import socket
from collections.abc import Iterator

import pytest
from websockets.exceptions import ConnectionClosed
from websockets.sync.client import ClientConnection, connect

from station.errors import DeviceTrouble
from station.page.app import GONE, REFUSED
from station.page.joining import ATTEMPTS
from station.page.server import CoachPageServer

WAIT_S = 20.0


@pytest.fixture
def server() -> Iterator[CoachPageServer]:
    made = CoachPageServer(
        {"language": "en", "left": "Left foot"},
        lambda: [{"plan": "Baseline"}],
        lambda: 0.0,
        "127.0.0.1",
        0,
    )
    made.start()
    assert made.wait_up(WAIT_S)
    yield made
    made.stop()


class Device:
    def __init__(self, server: CoachPageServer) -> None:
        self.host = f"127.0.0.1:{server.port}"
        self.cookie: str | None = None

    def ask(
        self, way: str, path: str, body: str | None = None, **headers: str
    ) -> tuple[int, bytes, http.client.HTTPMessage]:
        line = http.client.HTTPConnection(self.host, timeout=WAIT_S)
        given = {"Origin": f"http://{self.host}"} | headers
        if self.cookie is not None:
            given["Cookie"] = self.cookie
        line.request(way, path, body, given)
        answer = line.getresponse()
        found = answer.status, answer.read(), answer.headers
        line.close()
        return found

    def join(self, code: str, **headers: str) -> int:
        status, _, told = self.ask("POST", "/join", code, **headers)
        if status == 200:
            self.cookie = str(told["Set-Cookie"]).split(";")[0]
        return status

    def live(self, origin: str | None = None) -> ClientConnection:
        cookie = {} if self.cookie is None else {"Cookie": self.cookie}
        return connect(
            f"ws://{self.host}/live",
            origin=origin or f"http://{self.host}",  # type: ignore[arg-type]
            additional_headers=cookie,
            open_timeout=WAIT_S,
        )


def closed_with(line: ClientConnection) -> int | None:
    try:
        while True:
            line.recv(timeout=WAIT_S)
    except ConnectionClosed as told:
        return None if told.rcvd is None else told.rcvd.code


def test_a_page_joins_sees_the_newest_state_and_presses(server: CoachPageServer) -> None:
    device = Device(server)
    status, page, told = device.ask("GET", "/")
    assert status == 200
    assert b"page.js" in page
    assert "script-src 'self'" in told["Content-Security-Policy"]
    assert device.ask("GET", "/page.js")[0] == device.ask("GET", "/page.css")[0] == 200
    assert json.loads(device.ask("GET", "/words")[1])["left"] == "Left foot"
    assert device.join(server.code) == 200
    assert json.loads(device.ask("GET", "/visits")[1]) == [{"plan": "Baseline"}]
    for number in range(3):
        server.show({"number": number})
    with device.live() as line:
        assert json.loads(line.recv(timeout=WAIT_S)) == {"number": 2}
        server.show({"number": 3})
        assert json.loads(line.recv(timeout=WAIT_S)) == {"number": 3}
        for message in ("nonsense", '{"press":"quit"}', "\x00" * 500, '{"press":"rate_up"}'):
            line.send(message)
        line.send(b'{"press":"speed_down"}')
        server.show({"number": 4})
        pressed: list[str] = []
        while len(pressed) < 2:  # a round trip tells that what was sent before has come
            server.show({"number": 5})
            line.recv(timeout=WAIT_S)
            pressed += server.pressed()
        assert pressed == ["rate_up", "speed_down"]
    with device.live() as line:  # a connection that dropped: the device is still known
        assert "number" in json.loads(line.recv(timeout=WAIT_S))


def test_who_has_not_joined_gets_nothing(server: CoachPageServer) -> None:
    stranger, device = Device(server), Device(server)
    assert stranger.ask("GET", "/visits")[0] == 403
    with stranger.live() as line:
        assert closed_with(line) == REFUSED
    assert device.join(server.code) == 200
    with device.live(origin="http://evil.example") as line:
        with contextlib.suppress(ConnectionClosed):  # it may be closed already
            line.send('{"press":"next"}')
        assert closed_with(line) == REFUSED
    assert server.pressed() == ()


def test_other_sites_and_other_names_are_refused(server: CoachPageServer) -> None:
    device = Device(server)
    assert device.join(server.code, Origin="http://evil.example") == 403
    assert device.ask("GET", "/", Host="evil.example")[0] == 400
    assert device.ask("GET", "/nothing")[0] == 404
    assert device.join("1" * 1000) == 413
    assert server.devices == 0


def test_guessing_is_limited(server: CoachPageServer) -> None:
    device = Device(server)
    guess = f"{(int(server.code) + 1) % 1_000_000:06d}"
    assert [device.join(guess) for _ in range(ATTEMPTS)] == [403] * ATTEMPTS
    assert device.join(server.code) == 429


def test_the_end_of_the_session_ends_every_page_and_nothing_listens(
    server: CoachPageServer,
) -> None:
    device = Device(server)
    assert device.join(server.code) == 200
    port = server.port
    with device.live() as line:
        server.stop()
        assert closed_with(line) == GONE
    assert not server.running
    with pytest.raises(ConnectionRefusedError), socket.create_connection(("127.0.0.1", port), 2):
        pass
    server.stop()


def test_a_port_that_is_taken_is_told(server: CoachPageServer) -> None:
    other = CoachPageServer({}, list, lambda: 0.0, "127.0.0.1", server.port)
    with pytest.raises(DeviceTrouble, match="coach_page"):
        other.start()
    assert not other.running
    other.stop()
