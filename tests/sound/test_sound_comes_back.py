"""A device that goes away, stands still or runs short: the beat keeps its place and comes back."""

import re
import wave
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from fake_portaudio import BLOCK, FS, DeviceDrivenClock, FakeDevice

from station.sound.speaker_portaudio import PortAudioSpeaker
from station.sound.tones import make_tones
from station.sound.track import SoundTrack
from station.values import BeatManner, Cue, Heard

TICK = make_tones(volume=0.6).beat
PERIOD_S = 1 / 3


@pytest.fixture
def clock() -> DeviceDrivenClock:
    clock = DeviceDrivenClock()
    clock.move_to(12.0)
    return clock


@pytest.fixture
def device(clock: DeviceDrivenClock) -> FakeDevice:
    return FakeDevice(clock)


@pytest.fixture
def looks() -> list[bool]:
    """Whether the device was closed, at each time that it was opened anew."""
    return []


@pytest.fixture
def speaker(
    clock: DeviceDrivenClock, device: FakeDevice, looks: list[bool]
) -> Iterator[PortAudioSpeaker]:
    def open_anew(name: str | None, callback: Any, latency_s: float) -> Any:
        looks.append(device.closed)
        return device.open(name, callback, latency_s)

    speaker = PortAudioSpeaker(
        open_stream=device.open, open_stream_anew=open_anew, aside=lambda work: work()
    )
    speaker.start(clock)
    speaker.set_beat(180)
    yield speaker
    speaker.stop()


def run(speaker: PortAudioSpeaker, clock: DeviceDrivenClock, seconds: float) -> list[Heard]:
    """Let time pass as the loop does, some 60 turns a second."""
    told: list[Heard] = []
    end_s = clock.now_s() + seconds
    while clock.now_s() < end_s:
        clock.wait_until(clock.now_s() + 1 / 60, 1)
        told += speaker.heard()
    return told


def lose(device: FakeDevice, trouble: str = "gone") -> None:
    device.active = False
    device.trouble = trouble


def ticks_s(device: FakeDevice) -> np.ndarray:
    """Return when each tick truly began to sound, found in what the device was given."""
    found = []
    sound = device.sound()[:, 0]
    marks = np.flatnonzero(sound == TICK[3, 0]) - 3
    for at in marks:
        piece = sound[max(at, 0) : at + len(TICK)]
        if len(piece) == len(TICK) and np.array_equal(piece, TICK[:, 0]):
            block, within = divmod(int(at), BLOCK)
            found.append(device.sounds_s[block] + within / FS)
    return np.array(found)


def off_grid_s(times_s: np.ndarray, first_s: float) -> np.ndarray:
    turns = (times_s - first_s) / PERIOD_S
    return (turns - np.round(turns)) * PERIOD_S


def test_the_beat_comes_back_in_place_and_the_pulse_never_stops(
    speaker: PortAudioSpeaker, clock: DeviceDrivenClock, device: FakeDevice, looks: list[bool]
) -> None:
    told = run(speaker, clock, 15.0)
    lose(device)
    told += run(speaker, clock, 4.8)
    sounded = len(ticks_s(device))
    device.trouble = None
    told += run(speaker, clock, 20.0)
    times_s = np.array([event.t_s for event in told])
    np.testing.assert_allclose(np.diff(times_s), PERIOD_S, atol=2e-4)  # nothing lost, none double
    assert [event.number for event in told] == list(range(len(told)))
    true_s = ticks_s(device)
    assert len(true_s) - sounded >= 45
    assert np.abs(off_grid_s(true_s, true_s[0])).max() < 0.001
    assert looks
    assert all(looks)  # closed before the library is begun anew


def test_the_beat_comes_back_in_place_on_a_drifting_device(
    speaker: PortAudioSpeaker, clock: DeviceDrivenClock, device: FakeDevice
) -> None:
    device.drift = 2e-4
    run(speaker, clock, 40.0)
    before = len(ticks_s(device))
    lose(device)
    run(speaker, clock, 3.3)
    device.trouble = None
    run(speaker, clock, 10.0)
    true_s = ticks_s(device)
    steps = np.round(np.diff(true_s) / PERIOD_S)
    drifting_s = PERIOD_S * (1 + 2e-4)
    across_s = true_s[before] - true_s[before - 1] - steps[before - 1] * drifting_s
    assert abs(across_s) < 0.001


def test_it_says_so_while_silent_and_once_it_is_back(
    speaker: PortAudioSpeaker, clock: DeviceDrivenClock, device: FakeDevice
) -> None:
    run(speaker, clock, 2.0)
    assert speaker.notice is None
    assert speaker.faults() == ()
    lose(device)
    lost_s = clock.now_s()
    run(speaker, clock, 5.0)
    assert [fault.key for fault in speaker.faults()] == ["sound_gone"]
    off = str(speaker.notice)
    assert "went away" in off
    assert "trying again" in off
    assert float(re.findall(r"since ([0-9.]+) s", off)[0]) == pytest.approx(lost_s, abs=0.1)
    assert speaker.counts().times_lost == 1
    assert speaker.counts().silent_s == pytest.approx(5.0, abs=0.1)
    device.trouble = None
    run(speaker, clock, 5.0)
    silent_s = speaker.counts().silent_s
    assert 5.0 < silent_s < 9.0
    assert f"back after {silent_s:.1f} s" in str(speaker.notice)
    assert speaker.faults() == ()
    run(speaker, clock, 11.0)
    assert speaker.notice is None
    assert speaker.counts().silent_s == silent_s
    assert speaker.counts().times_lost == 1


def test_tries_become_rarer_but_never_end(
    speaker: PortAudioSpeaker, clock: DeviceDrivenClock, device: FakeDevice
) -> None:
    run(speaker, clock, 1.0)
    lose(device)
    tries_s: list[float] = []
    while len(tries_s) < 9:
        before = len(device.asked_latencies_s)
        run(speaker, clock, 1 / 60)
        if len(device.asked_latencies_s) > before:
            tries_s.append(clock.now_s())
    np.testing.assert_allclose(np.diff(tries_s), [2, 4, 8, 10, 10, 10, 10, 10], atol=0.05)


def test_lost_again_while_it_comes_back(
    speaker: PortAudioSpeaker, clock: DeviceDrivenClock, device: FakeDevice
) -> None:
    told = run(speaker, clock, 3.0)
    lose(device)
    told += run(speaker, clock, 0.5)
    device.trouble = None
    told += run(speaker, clock, 0.7)  # opened, not yet placed
    lose(device)
    told += run(speaker, clock, 3.0)
    device.trouble = None
    told += run(speaker, clock, 8.0)
    assert speaker.counts().times_lost == 2
    assert speaker.counts().silent_s > 4.0  # one silence for whoever listens
    np.testing.assert_allclose(np.diff([e.t_s for e in told]), PERIOD_S, atol=2e-4)
    true_s = ticks_s(device)
    assert np.abs(off_grid_s(true_s, true_s[0])).max() < 0.001
    assert clock.now_s() - true_s[-1] < 0.5


def test_a_change_of_rate_while_silent_is_heard_afterwards(
    speaker: PortAudioSpeaker, clock: DeviceDrivenClock, device: FakeDevice
) -> None:
    run(speaker, clock, 3.0)
    lose(device)
    run(speaker, clock, 1.0)
    speaker.set_beat(150, BeatManner())
    told = run(speaker, clock, 2.0)
    assert np.diff([e.t_s for e in told])[-3:] == pytest.approx(0.4, abs=1e-3)
    assert speaker.cue(Cue("praise", clock.now_s())) is not None
    device.trouble = None
    run(speaker, clock, 12.0)
    assert np.diff(ticks_s(device))[-5:] == pytest.approx(0.4, abs=1e-4)


def test_a_device_that_stands_still_for_a_moment_goes_on_in_place(
    speaker: PortAudioSpeaker, clock: DeviceDrivenClock, device: FakeDevice
) -> None:
    told = run(speaker, clock, 5.0)
    clock.devices.clear()
    told += run(speaker, clock, 1.0)
    assert speaker.notice is None  # it may only be a moment
    device.begin_s += 1.0  # the device was held up by so much
    clock.devices.append(device)
    told += run(speaker, clock, 5.0)
    np.testing.assert_allclose(np.diff([e.t_s for e in told]), PERIOD_S, atol=2e-3)
    true_s = ticks_s(device)
    assert np.abs(off_grid_s(true_s, true_s[0])).max() < 0.002
    assert speaker.counts().times_lost == 0
    assert speaker.counts().underflows == 1
    assert 0.9 < speaker.counts().silent_s < 2.5
    assert "stood still" in str(speaker.notice)


def test_many_underruns_are_answered_by_more_latency_up_to_a_cap(
    speaker: PortAudioSpeaker, clock: DeviceDrivenClock, device: FakeDevice
) -> None:
    told = run(speaker, clock, 3.0)
    said: list[str | None] = []
    for _ in range(6):
        for _ in range(3):
            device.underflow = True
            told += run(speaker, clock, 0.5)
        told += run(speaker, clock, 4.0)
        said.append(speaker.notice)
    assert device.asked_latencies_s == [0.04, 0.08, 0.16]
    assert speaker.counts().latency_s == 0.16
    assert speaker.counts().underflows == 18
    assert speaker.counts().times_lost == 0
    assert "80 ms" in str(said[0])
    assert "160 ms" in str(said[1])
    assert said[-1] is None  # once
    np.testing.assert_allclose(np.diff([e.t_s for e in told]), PERIOD_S, atol=2e-3)
    true_s = ticks_s(device)
    assert np.abs(off_grid_s(true_s, true_s[0])).max() < 0.001


def test_after_an_underrun_the_beat_is_back_in_its_place(
    speaker: PortAudioSpeaker, clock: DeviceDrivenClock, device: FakeDevice
) -> None:
    told = run(speaker, clock, 5.0)
    for late_s in (0.030, 0.047):
        device.underflow = True
        device.begin_s += late_s  # the device played nothing for so long
        told += run(speaker, clock, 12.0)
    assert speaker.counts().underflows == 2
    assert device.asked_latencies_s == [0.04]
    true_s = ticks_s(device)
    off_s = off_grid_s(true_s, true_s[0])
    assert (np.abs(off_s) > 0.001).sum() <= 2  # at most the one beat that the gap fell into
    assert np.abs(off_s[-20:]).max() < 0.001
    told_s = np.array([e.t_s for e in told])
    assert np.abs(off_grid_s(told_s, told_s[0])[-20:]).max() < 0.001


def test_a_clock_that_jumps_without_an_underrun_moves_no_sound(
    speaker: PortAudioSpeaker, clock: DeviceDrivenClock, device: FakeDevice
) -> None:
    run(speaker, clock, 5.0)
    device.latency_s += 0.030  # told to sound later, but played as before
    device.begin_s += 0.030
    run(speaker, clock, 12.0)
    sound = device.sound()[:, 0]
    onsets = np.flatnonzero(sound == TICK[3, 0])
    onsets = onsets[np.diff(onsets, prepend=-BLOCK) > FS // 10]
    np.testing.assert_allclose(np.diff(onsets[1:]), FS / 3, atol=1)


def test_a_few_underruns_far_apart_change_nothing(
    speaker: PortAudioSpeaker, clock: DeviceDrivenClock, device: FakeDevice
) -> None:
    for _ in range(6):
        device.underflow = True
        run(speaker, clock, 6.0)
    assert device.asked_latencies_s == [0.04]
    assert speaker.counts().underflows == 6


def test_a_bay_may_begin_with_another_latency(clock: DeviceDrivenClock, device: FakeDevice) -> None:
    speaker = PortAudioSpeaker(
        open_stream=device.open,
        latency_s=0.1,
        open_stream_anew=device.open,
        aside=lambda work: work(),
    )
    speaker.start(clock)
    for _ in range(3):
        device.underflow = True
        run(speaker, clock, 0.5)
    run(speaker, clock, 1.0)
    speaker.stop()
    assert device.asked_latencies_s == [0.1, 0.16]


def test_stopping_while_it_is_gone_ends_the_tries(
    speaker: PortAudioSpeaker, clock: DeviceDrivenClock, device: FakeDevice
) -> None:
    run(speaker, clock, 1.0)
    lose(device)
    run(speaker, clock, 1.0)
    speaker.stop()
    tries = len(device.asked_latencies_s)
    clock.wait_until(clock.now_s() + 30.0, 1)
    speaker.heard()
    assert len(device.asked_latencies_s) == tries


def test_a_films_sound_has_the_silence_and_the_beat_in_its_place(
    speaker: PortAudioSpeaker, clock: DeviceDrivenClock, device: FakeDevice, tmp_path: Path
) -> None:
    track = SoundTrack(tmp_path / "sound.wav", speaker.sounds_at)
    speaker.tap(track.put)
    first_s = clock.now_s()
    for second in range(24):
        if second == 8:
            lose(device)
        if second == 11:
            device.trouble = None
        run(speaker, clock, 1.0)
        track.follow(first_s, clock.now_s())
    track.finish()
    with wave.open(str(tmp_path / "sound.wav")) as file:
        raw = np.frombuffer(file.readframes(file.getnframes()), "<i2")
    sound = raw.reshape(-1, 2)[:, 0] / 32768.0
    loud = np.flatnonzero(np.abs(sound) > 0.5 * np.abs(sound).max())
    onsets_s = loud[np.diff(loud, prepend=-FS) > FS // 5] / FS
    silent_s = np.diff(onsets_s).max()
    assert 3.0 < silent_s < 8.0
    assert len(onsets_s) == pytest.approx(3 * (24 - silent_s), abs=3)
    assert np.abs(off_grid_s(onsets_s, onsets_s[0])).max() < 0.002


@pytest.mark.parametrize("jump_s", [5.0, -5.0, 3600.0, -3600.0])
def test_the_wall_clock_may_be_set_at_any_instant(
    speaker: PortAudioSpeaker, clock: DeviceDrivenClock, device: FakeDevice, jump_s: float
) -> None:
    told = run(speaker, clock, 4.0)
    device.stream_time_s += jump_s  # between two callbacks
    told += run(speaker, clock, 4.0)
    device.set_within = jump_s  # between the two readings of one callback
    told += run(speaker, clock, 4.0)
    np.testing.assert_allclose(np.diff([e.t_s for e in told]), PERIOD_S, atol=1e-6)
    true_s = ticks_s(device)
    np.testing.assert_allclose(np.diff(true_s), PERIOD_S, atol=1e-6)
    told_s = np.array([e.t_s for e in told])[: len(true_s)]
    np.testing.assert_allclose(told_s, true_s, atol=1e-6)  # what the screen's pulse follows
    assert speaker.counts().silent_s == 0.0
    assert speaker.notice is None


@pytest.mark.parametrize("jump_s", [0.03, -0.03, 0.5])
def test_a_small_set_within_one_callback_moves_nothing_either(
    speaker: PortAudioSpeaker, clock: DeviceDrivenClock, device: FakeDevice, jump_s: float
) -> None:
    told = run(speaker, clock, 4.0)
    device.set_within = jump_s
    told += run(speaker, clock, 4.0)
    np.testing.assert_allclose(np.diff([e.t_s for e in told]), PERIOD_S, atol=1e-6)


@pytest.mark.parametrize("drift", [2e-4, -2e-4])
def test_a_drifting_device_or_wall_clock_is_told_where_it_truly_sounds(
    speaker: PortAudioSpeaker, clock: DeviceDrivenClock, device: FakeDevice, drift: float
) -> None:
    device.drift = drift
    told: list[Heard] = []
    for _ in range(600):
        device.stream_time_s += 0.1 * 2e-4  # the wall clock is slewed by 200 ppm
        told += run(speaker, clock, 0.1)
    true_s = ticks_s(device)
    told_s = np.array([e.t_s for e in told])[: len(true_s)]
    late_s = told_s - true_s
    assert np.abs(late_s).max() < 0.0015
    assert np.abs(late_s[60:]).max() < 0.0005  # the drift is learned within some 20 s
    np.testing.assert_allclose(np.diff(true_s), PERIOD_S * (1 + drift), atol=2 / FS)
