import sys
from collections.abc import Iterator
from types import SimpleNamespace

import numpy as np
import pytest
from fake_portaudio import FS, DeviceDrivenClock, FakeDevice

from station.errors import BadInput, DeviceTrouble, StationError
from station.sound.speaker_portaudio import LATENCY_S, PortAudioSpeaker, open_stream
from station.sound.tones import make_tones
from station.values import Cue

TONES = make_tones(volume=0.6)


@pytest.fixture
def clock() -> DeviceDrivenClock:
    clock = DeviceDrivenClock()
    clock.move_to(12.0)  # the session is older than the stream
    return clock


@pytest.fixture
def device(clock: DeviceDrivenClock) -> FakeDevice:
    return FakeDevice(clock)


@pytest.fixture
def speaker(clock: DeviceDrivenClock, device: FakeDevice) -> Iterator[PortAudioSpeaker]:
    speaker = PortAudioSpeaker(
        open_stream=device.open, open_stream_anew=no_device, aside=lambda work: work()
    )
    speaker.start(clock)
    yield speaker
    speaker.stop()


def no_device(*_: object) -> tuple[FakeDevice, str, str | None]:
    raise DeviceTrouble("no sound output")


def true_onset_s(device: FakeDevice, sample: int) -> float:
    return device.begin_s + sample / FS


def test_the_tap_gets_what_the_device_gets(
    speaker: PortAudioSpeaker, clock: DeviceDrivenClock, device: FakeDevice
) -> None:
    got: list[tuple[int, np.ndarray]] = []
    before = sum(len(block) for block in device.blocks)
    speaker.tap(lambda start, block: got.append((start, block.copy())))
    speaker.set_beat(180)
    clock.wait_until(clock.now_s() + 2.0, 2.0)
    assert [start for start, _ in got] == list(range(before, before + 480 * len(got), 480))
    played = device.sound()[before:]
    assert np.abs(played).max() > 0.1
    np.testing.assert_array_equal(np.concatenate([block for _, block in got]), played)
    late_s = speaker.sounds_at(before) - true_onset_s(device, before)
    assert abs(late_s) < 0.001


def test_starting_ends_once_the_devices_clock_is_known(
    speaker: PortAudioSpeaker, clock: DeviceDrivenClock, device: FakeDevice
) -> None:
    assert device.active
    assert clock.now_s() - 12.0 < 0.5
    blocks = len(device.blocks)
    speaker.start(clock)  # once more changes nothing
    assert len(device.blocks) == blocks
    assert speaker.name == "fake output"
    assert speaker.notice is None


def test_beats_are_told_ahead_with_their_true_onset(
    speaker: PortAudioSpeaker, clock: DeviceDrivenClock, device: FakeDevice
) -> None:
    speaker.set_beat(180)
    told = []
    for _ in range(200):
        clock.wait_until(clock.now_s() + 1 / 60, 1)
        new = speaker.heard()
        assert all(event.t_s > clock.now_s() for event in new)  # not sounded yet
        told += new
    sound = device.sound()
    onsets = [
        i
        for i in range(len(sound) - len(TONES.beat))
        if sound[i + 3, 0] == TONES.beat[3, 0]
        and np.array_equal(sound[i : i + len(TONES.beat)], TONES.beat)
    ]
    assert 9 <= len(onsets) <= len(told) <= len(onsets) + 1
    for event, onset in zip(told, onsets, strict=False):
        assert event.kind == "beat"
        assert event.period_s == pytest.approx(1 / 3)
        assert event.t_s == pytest.approx(true_onset_s(device, onset), abs=1e-6)


def test_a_cue_sounds_when_promised(
    speaker: PortAudioSpeaker, clock: DeviceDrivenClock, device: FakeDevice
) -> None:
    asked_s = clock.now_s()
    promised_s = speaker.cue(Cue("ahead", asked_s, "left"))
    assert promised_s is not None
    assert asked_s < promised_s <= asked_s + LATENCY_S + 0.011
    clock.wait_until(asked_s + 0.3, 1)
    (heard,) = speaker.heard()
    assert (heard.kind, heard.side) == ("ahead", "left")
    assert heard.t_s == promised_s
    begins = int(np.flatnonzero(device.sound()[:, 0])[0]) - 1  # the tone's first sample is 0
    assert true_onset_s(device, begins) == pytest.approx(promised_s, abs=1e-6)


def test_a_stale_cue_is_dropped_and_counted(
    speaker: PortAudioSpeaker, clock: DeviceDrivenClock, device: FakeDevice
) -> None:
    speaker.set_beat(150)  # one step is 0.4 s
    now_s = clock.now_s()
    assert speaker.cue(Cue("ahead", now_s - 0.39, "left")) is None
    assert speaker.cue(Cue("ahead", now_s - 0.30, "left")) is not None
    assert speaker.cue(Cue("paused", now_s - 0.39)) is not None  # about no single step
    assert speaker.counts().cues_stale == 1
    assert speaker.counts().cues_replaced == 1


def test_a_jump_of_the_wall_clock_moves_nothing(
    speaker: PortAudioSpeaker, clock: DeviceDrivenClock, device: FakeDevice
) -> None:
    speaker.set_beat(200)
    told = []
    for i in range(240):
        if i == 120:
            device.stream_time_s -= 3600.0
        clock.wait_until(clock.now_s() + 1 / 60, 1)
        told += speaker.heard()
    gaps = np.diff([event.t_s for event in told])
    np.testing.assert_allclose(gaps, 0.3, atol=1e-6)


def test_underflows_are_counted(
    speaker: PortAudioSpeaker, clock: DeviceDrivenClock, device: FakeDevice
) -> None:
    assert speaker.counts().underflows == 0
    device.underflow = True
    clock.wait_until(clock.now_s() + 0.1, 1)
    assert speaker.counts().underflows == 1


def test_a_device_that_goes_away_leaves_the_beat_and_a_notice(
    speaker: PortAudioSpeaker, clock: DeviceDrivenClock, device: FakeDevice
) -> None:
    speaker.set_beat(180)
    clock.wait_until(clock.now_s() + 1.0, 1)
    speaker.heard()
    device.active = False
    clock.wait_until(clock.now_s() + 1.0, 1)
    speaker.heard()
    assert device.closed
    assert speaker.notice is not None
    assert "went away" in speaker.notice
    clock.wait_until(clock.now_s() + 2.0, 1)
    gaps = np.diff([event.t_s for event in speaker.heard()])
    assert len(gaps) >= 4
    np.testing.assert_allclose(gaps, 1 / 3, atol=1e-4)
    assert speaker.cue(Cue("praise", clock.now_s())) is not None


def test_a_device_that_stops_answering_is_given_up(
    speaker: PortAudioSpeaker, clock: DeviceDrivenClock, device: FakeDevice
) -> None:
    clock.devices.clear()  # no callbacks any more
    clock.wait_until(clock.now_s() + 1.0, 1)
    speaker.heard()
    assert speaker.notice is None
    clock.wait_until(clock.now_s() + 1.0, 1)
    speaker.heard()
    assert "stopped answering" in str(speaker.notice)


def test_a_fault_in_the_callback_is_kept_and_told(
    speaker: PortAudioSpeaker,
    clock: DeviceDrivenClock,
    device: FakeDevice,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def fail(*_: object) -> None:
        raise RuntimeError("broken on purpose")

    monkeypatch.setattr(speaker._mixer, "render", fail)
    clock.wait_until(clock.now_s() + 0.1, 1)
    assert not device.blocks[-1].any()  # silent, not garbage
    speaker.heard()
    assert isinstance(speaker.fault, RuntimeError)
    assert "broken on purpose" in str(speaker.notice)
    assert device.closed


def test_stopping_closes_and_may_be_repeated(speaker: PortAudioSpeaker, device: FakeDevice) -> None:
    speaker.stop()
    assert device.closed
    speaker.stop()


def test_no_output_is_a_devices_trouble(clock: DeviceDrivenClock, device: FakeDevice) -> None:
    device.trouble = "nothing there"
    speaker = PortAudioSpeaker(open_stream=device.open)
    with pytest.raises(DeviceTrouble, match="nothing there"):
        speaker.start(clock)
    with pytest.raises(StationError, match="not been started"):
        speaker.heard()


def test_an_impossible_rate_is_refused(speaker: PortAudioSpeaker) -> None:
    with pytest.raises(BadInput, match="steps per minute"):
        speaker.set_beat(5)


# --- the edge to sounddevice itself ---------------------------------------------------------------


class FakeSounddevice(SimpleNamespace):
    PortAudioError = type("PortAudioError", (Exception,), {})


def put_sounddevice(monkeypatch: pytest.MonkeyPatch, names: list[str]) -> list[dict]:
    opened: list[dict] = []
    devices = [{"name": name, "max_output_channels": 2} for name in names]

    def query_devices(device: object = "all", kind: str | None = None) -> object:
        if device == "all":
            return devices
        if not devices:
            raise FakeSounddevice.PortAudioError("Error querying device -1")
        return devices[device or 0]

    def output_stream(**settings: object) -> object:
        opened.append(settings)
        return SimpleNamespace(active=False)

    module = FakeSounddevice(query_devices=query_devices, OutputStream=output_stream)
    monkeypatch.setitem(sys.modules, "sounddevice", module)
    return opened


def test_the_named_output_is_opened(monkeypatch: pytest.MonkeyPatch) -> None:
    opened = put_sounddevice(monkeypatch, ["Built-in", "USB Audio: front"])
    _, name, notice = open_stream("usb audio", lambda *_: None)
    assert name == "USB Audio: front (PortAudio)"
    assert notice is None
    assert opened[0]["device"] == 1
    assert (opened[0]["samplerate"], opened[0]["channels"]) == (48_000, 2)
    assert opened[0]["latency"] == 0.04


def test_an_unknown_name_gives_the_default_and_a_notice(monkeypatch: pytest.MonkeyPatch) -> None:
    opened = put_sounddevice(monkeypatch, ["Built-in"])
    _, _, notice = open_stream("Bay loudspeaker", lambda *_: None)
    assert opened[0]["device"] is None
    assert notice is not None
    assert "'Bay loudspeaker' (there are: Built-in)" in notice


def test_no_device_at_all_is_a_devices_trouble(monkeypatch: pytest.MonkeyPatch) -> None:
    put_sounddevice(monkeypatch, [])
    with pytest.raises(DeviceTrouble, match="opens no sound output"):
        open_stream(None, lambda *_: None)


def test_a_missing_library_names_the_remedy(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "sounddevice", None)  # import raises ImportError
    with pytest.raises(DeviceTrouble, match="apt install libportaudio2"):
        open_stream(None, lambda *_: None)
