"""The supervisor: what it is told, and when it is told nothing; and the unit that is shipped."""

from __future__ import annotations

import configparser
import shutil
import socket
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from station.commands.service import BEATS, Supervisor
from station.live.heartbeat import Heartbeat
from station.settings.resources import resource


@pytest.fixture
def listening(tmp_path: Path) -> Iterator[tuple[str, socket.socket]]:
    address = str(tmp_path / "notify")
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as server:
        server.bind(address)
        server.settimeout(2.0)
        yield address, server


def test_the_supervisor_is_told_of_the_first_page_and_of_each_beat(
    listening: tuple[str, socket.socket],
) -> None:
    address, server = listening
    environment = {"NOTIFY_SOCKET": address, "WATCHDOG_USEC": "15000000", "WATCHDOG_PID": "1"}
    supervisor = Supervisor(environment)
    assert environment == {}, "what we start must not speak in our name"
    assert supervisor.beat_every_s == pytest.approx(15.0 / BEATS)
    supervisor.ready()
    supervisor.beat()
    supervisor.status("waiting")
    supervisor.stopping()
    told = [server.recv(100).decode() for _ in range(4)]
    assert told == ["READY=1", "WATCHDOG=1", "STATUS=waiting", "STOPPING=1"]


@pytest.mark.parametrize("environment", [{}, {"NOTIFY_SOCKET": "/nowhere/notify"}])
def test_nobody_listening_is_no_trouble(environment: dict[str, str]) -> None:
    supervisor = Supervisor(environment)
    supervisor.ready()
    supervisor.beat()
    assert supervisor.waits_s is None


def test_an_abstract_socket_is_known() -> None:
    name = "station-test-notify"
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as server:
        server.bind("\0" + name)
        server.settimeout(2.0)
        Supervisor({"NOTIFY_SOCKET": f"@{name}"}).beat()
        assert server.recv(100) == b"WATCHDOG=1"


# --- the heart ------------------------------------------------------------------------------------


def beats(counts: list[tuple[int, ...]]) -> list[int]:
    """Return the seconds at which a heart beat that is asked once a second."""
    at: list[int] = []
    now = 0
    heart = Heartbeat(lambda: at.append(now), 2.0)
    for now, count in enumerate(counts):
        heart.turn(float(now), count)
    return at


def test_it_beats_while_everything_goes_on() -> None:
    assert beats([(n, 3 * n, 5 * n) for n in range(8)]) == [1, 3, 5, 7]


@pytest.mark.parametrize("part", [0, 1, 2])
def test_it_stops_where_one_part_hangs_and_goes_on_with_it(part: int) -> None:
    def count(n: int) -> tuple[int, ...]:
        hung = min(n, 4) if n < 20 else n
        return tuple(hung if p == part else n for p in range(3))

    at = beats([count(n) for n in range(25)])
    assert [n for n in at if 5 < n < 20] == []
    assert [n for n in at if n >= 20]


# --- the unit -------------------------------------------------------------------------------------

UNIT = "config/landing-station.service"


def test_the_unit_waits_for_beats_and_starts_again_but_not_a_bay_with_mistakes() -> None:
    unit = configparser.ConfigParser(strict=False, interpolation=None)
    unit.optionxform = str  # type: ignore[assignment,method-assign]
    unit.read_string(resource(UNIT).read_text(encoding="utf-8"))
    service = unit["Service"]
    assert service["Type"] == "notify"
    assert 5 <= int(service["WatchdogSec"]) <= 30
    assert service["Restart"] == "on-failure"
    assert "2" in service["RestartPreventExitStatus"].split()
    assert service["KillMode"] == "mixed"


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="systemd-analyze is not here")
def test_the_unit_is_well_by_systemd_s_own_verifier(tmp_path: Path) -> None:
    unit = tmp_path / "landing-station.service"
    unit.write_text(resource(UNIT).read_text(encoding="utf-8"), encoding="utf-8")
    done = subprocess.run(
        ["systemd-analyze", "verify", "--man=no", "--recursive-errors=one", str(unit)],
        capture_output=True, text=True, timeout=30, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "landing-station" not in done.stderr
