"""The tries to open a device again, on threads of their own."""

import threading
from types import SimpleNamespace
from typing import Any

import pytest

from station.errors import DeviceTrouble
from station.sound.portaudio_stream import look_afresh
from station.sound.reopening import Reopening, in_thread


class Hanging:
    """A device whose opening takes as long as the test wants."""

    def __init__(self) -> None:
        self.began = threading.Event()
        self.gate = threading.Event()
        self.closed: list[object] = []
        self.opened: Any = SimpleNamespace(name="device")
        self.fault: Exception | None = None

    def attempt(self) -> Any:
        self.began.set()
        assert self.gate.wait(10.0)
        if self.fault is not None:
            raise self.fault
        return self.opened

    def reopening(self) -> Reopening:
        return Reopening(self.attempt, self.closed.append, in_thread, 0.0)


def polled(reopening: Reopening, now_s: float) -> Any:
    """Poll until the running try has ended."""
    assert reopening._idle.wait(10.0)
    return reopening.poll(now_s)


def test_a_device_that_hangs_holds_nobody_up_and_is_tried_once() -> None:
    device = Hanging()
    reopening = device.reopening()
    for t_s in range(60):
        assert reopening.poll(float(t_s)) is None
    assert reopening.tries == 1
    device.gate.set()
    assert polled(reopening, 60.0) is device.opened
    assert reopening.poll(60.1) is None  # given once


def test_one_that_opens_after_the_end_is_closed() -> None:
    device = Hanging()
    reopening = device.reopening()
    reopening.poll(0.0)
    assert device.began.wait(10.0)
    releasing = threading.Timer(0.0, device.gate.set)
    releasing.start()
    reopening.abandon()
    releasing.join()
    assert device.closed == [device.opened]
    assert reopening.poll(100.0) is None


def test_one_that_had_opened_before_the_end_is_closed() -> None:
    device = Hanging()
    device.gate.set()
    reopening = device.reopening()
    reopening.poll(-1.0)
    assert reopening.tries == 0  # not due
    if reopening.poll(0.0) is None:
        assert reopening._idle.wait(10.0)
        reopening.abandon()
        assert device.closed == [device.opened]


def test_a_try_that_fails_is_followed_by_another() -> None:
    device = Hanging()
    device.gate.set()
    device.fault = DeviceTrouble("gone")
    reopening = device.reopening()
    reopening.poll(0.0)
    assert polled(reopening, 1.9) is None
    assert reopening.tries == 1
    device.fault = None
    assert reopening.poll(2.1) is device.opened or polled(reopening, 2.2) is device.opened


def test_portaudio_is_begun_anew_also_after_a_try_that_failed_half_way(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    calls: list[str] = []
    module = SimpleNamespace(PortAudioError=OSError, _initialized=1)

    def end() -> None:
        calls.append("end")
        module._initialized = 0

    def begin() -> None:
        calls.append("begin")
        if len(calls) == 2:
            raise OSError("no host")
        module._initialized = 1

    module._terminate, module._initialize = end, begin
    monkeypatch.setitem(__import__("sys").modules, "sounddevice", module)
    with pytest.raises(DeviceTrouble, match="does not start again: no host"):
        look_afresh()
    look_afresh()
    assert calls == ["end", "begin", "begin"]


def test_a_release_without_the_private_calls_goes_on_with_the_devices_it_knows(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setitem(__import__("sys").modules, "sounddevice", SimpleNamespace())
    look_afresh()


def test_the_real_sounddevice_offers_both_calls() -> None:
    sounddevice = pytest.importorskip("sounddevice", exc_type=OSError)
    assert callable(sounddevice._terminate)
    assert callable(sounddevice._initialize)
    assert isinstance(sounddevice._initialized, int)
