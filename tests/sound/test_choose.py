import sys

import pytest

from station.clock import StreamClock, WallClock
from station.errors import BadInput
from station.ports import Speaker
from station.sound.choose import open_speaker


def beats_until(speaker: Speaker, clock: StreamClock, t_s: float) -> int:
    clock.move_to(t_s)
    return sum(event.kind == "beat" for event in speaker.heard())


def test_virtual_plays_on_the_sessions_clock_without_a_notice() -> None:
    clock = StreamClock()
    speaker = open_speaker(clock, virtual=True)
    assert (speaker.name, speaker.notice) == ("stream time", None)
    speaker.set_beat(60)
    speaker.start(clock)  # the loop may start it again
    beats_until(speaker, clock, 0.1)
    assert beats_until(speaker, clock, 10.05) == 10


def test_silent_is_as_asked() -> None:
    speaker = open_speaker(StreamClock(), silent=True)
    assert (speaker.name, speaker.notice) == ("silent", "Sound is off, as asked.")


def test_without_portaudio_the_mixer_plays(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    monkeypatch.setenv("SDL_AUDIODRIVER", "dummy")
    speaker = open_speaker(WallClock())
    try:
        assert speaker.name == "pygame mixer"
    finally:
        speaker.stop()


def test_without_any_device_it_is_silent_and_says_why(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    monkeypatch.setenv("SDL_AUDIODRIVER", "no-such-driver")
    speaker = open_speaker(WallClock())
    assert speaker.name == "silent"
    assert speaker.notice is not None
    assert "apt install libportaudio2" in speaker.notice
    assert "pygame's mixer opens no sound output" in speaker.notice


@pytest.mark.parametrize("volume", [-0.1, 1.1, float("nan")])
def test_a_volume_out_of_range_is_refused(volume: float) -> None:
    with pytest.raises(BadInput, match="allowed is 0 to 1"):
        open_speaker(StreamClock(), volume=volume)
