import sys
from dataclasses import replace

import numpy as np
import pytest

from station.clock import StreamClock, WallClock
from station.errors import DeviceTrouble
from station.sound.desk import Desk
from station.sound.device_clock import DeviceClock
from station.sound.mixer import Mixer
from station.sound.mixer_feeder import Feeder
from station.sound.outlet import Outlet
from station.sound.reopening import Opened
from station.sound.sdl_status import output_status
from station.sound.speaker_mixer import LATENCY_S, PygameSpeaker
from station.sound.tones import Voicing, make_tones
from station.values import BeatManner, Cue, Heard

FS = 48_000
CHUNK = round(LATENCY_S * FS)
CHUNK_S = CHUNK / FS


class FakeChannel:
    """Plays one chunk and holds one, as pygame's channel; `advance` ends the one that plays."""

    def __init__(self) -> None:
        self.playing: np.ndarray | None = None
        self.waiting: np.ndarray | None = None
        self.played: list[np.ndarray] = []

    def play(self, chunk: np.ndarray) -> None:
        self.playing = chunk

    def queue(self, chunk: np.ndarray) -> None:
        assert self.waiting is None, "a chunk that waits would be lost"
        self.waiting = chunk

    def get_queue(self) -> np.ndarray | None:
        return self.waiting

    def get_busy(self) -> bool:
        return self.playing is not None

    def advance(self) -> None:
        if self.playing is not None:
            self.played.append(self.playing)
        self.playing, self.waiting = self.waiting, None


Fed = tuple[PygameSpeaker, FakeChannel, Feeder, StreamClock]


def fed_by_hand(speaker: PygameSpeaker) -> Fed:
    channel, clock = FakeChannel(), StreamClock()
    desk = Desk(speaker._mixer, DeviceClock(FS, 0.0, 0.015), clock)
    speaker._desk = desk
    outlet = Outlet(desk, clock, speaker._new_clock, speaker.recent_s, speaker.warm_s, 0)

    def as_array(raw: bytes) -> np.ndarray:
        return np.frombuffer(raw, np.float32).reshape(-1, 2)

    feeder = Feeder(outlet, channel, CHUNK, as_array, lambda: True, clock.now_s)
    playing = type("Playing", (), {"there": None})()
    speaker._opened = Opened(playing, outlet, "pygame mixer", None, LATENCY_S)
    return speaker, channel, feeder, clock


@pytest.fixture
def fed() -> Fed:
    """A speaker whose feeder is moved by hand."""
    return fed_by_hand(PygameSpeaker(volume=1.0))


def test_the_tap_gets_every_chunk(fed: Fed) -> None:
    speaker, channel, feeder, _ = fed
    got: list[tuple[int, np.ndarray]] = []
    speaker.tap(lambda start, block: got.append((start, block.copy())))
    speaker.set_beat(180)
    waiting = feeder.begin()
    for _ in range(20):
        channel.advance()
        waiting = feeder.feed_once(waiting)
    assert [start for start, _ in got] == [CHUNK * i for i in range(len(got))]
    played = np.concatenate(channel.played)
    assert np.abs(played).max() > 0.1
    np.testing.assert_array_equal(np.concatenate([b for _, b in got])[: len(played)], played)


def test_chunks_join_into_an_unbroken_beat(fed: Fed) -> None:
    speaker, channel, feeder, clock = fed
    speaker.set_beat(177)
    waiting = feeder.begin()
    for k in range(100):
        clock.move_to(1.0 + k * CHUNK_S)
        waiting = feeder.feed_once(waiting)
        assert feeder.feed_once(waiting) == waiting  # nothing to do twice
        channel.advance()
    sound = np.concatenate(channel.played)
    tick = make_tones().beat
    expected = np.zeros((len(sound) + len(tick), 2), dtype=np.float32)
    for k in range(1000):
        if (at := round(k * 60 * FS / 177)) < len(sound):
            expected[at : at + len(tick)] += tick
    np.testing.assert_array_equal(sound, expected[: len(sound)])
    assert speaker.counts().underflows == 0
    gaps = np.diff([event.t_s for event in speaker.heard()])
    np.testing.assert_allclose(gaps, 60 / 177, atol=0.001)


def test_strides_feet_and_ramps_are_as_exact_in_chunks() -> None:
    speaker, channel, feeder, _ = fed_by_hand(PygameSpeaker(None, 1.0, Voicing(feet="pan")))
    speaker.set_beat(180, BeatManner("stride", 0.02, 165.0, "left"))
    waiting = feeder.begin()
    for _ in range(200):
        waiting = feeder.feed_once(waiting)
        channel.advance()
    sound = np.concatenate(channel.played)
    whole = Mixer(speaker._mixer.tones)
    whole.set_beat(180, BeatManner("stride", 0.02, 165.0, "left"))
    expected = np.empty_like(sound)
    whole.render(expected)
    np.testing.assert_array_equal(sound, expected)
    assert {p.kind for p in whole.placed()} == {"beat", "offbeat"}


def test_a_late_feeder_is_counted_and_goes_on(fed: Fed) -> None:
    speaker, channel, feeder, _ = fed
    waiting = feeder.begin()
    channel.advance()
    channel.advance()
    waiting = feeder.feed_once(waiting)
    assert speaker.counts().underflows == 0  # it might be between two chunks
    waiting = feeder.feed_once(waiting)
    assert speaker.counts().underflows == 1
    assert channel.get_busy()
    assert waiting == 3 * CHUNK  # the chunk queued last: none was left out
    assert speaker._mixer.cursor == 4 * CHUNK


def test_a_channel_idle_between_two_chunks_loses_none(fed: Fed) -> None:
    speaker, channel, feeder, _ = fed
    waiting = feeder.begin()
    second, channel.waiting, channel.playing = channel.waiting, None, None  # for an instant
    waiting = feeder.feed_once(waiting)
    assert channel.playing is None  # nothing was played over it
    channel.playing = second
    waiting = feeder.feed_once(waiting)
    assert channel.playing is second
    assert channel.waiting is not None
    assert waiting == 2 * CHUNK
    assert speaker.counts().underflows == 0


def test_it_plays_without_a_display_or_a_speaker(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SDL_AUDIODRIVER", "dummy")
    clock, speaker = WallClock(), PygameSpeaker()
    speaker.start(clock)
    try:
        speaker.start(clock)
        assert "dummy" not in speaker.name
        assert "SDL_AUDIODRIVER" in str(speaker.notice)
        speaker.set_beat(300)
        onset_s = speaker.cue(Cue("ahead", clock.now_s(), "left"))
        assert onset_s is not None
        assert 0.0 < onset_s - clock.now_s() < 0.25
        told: list = []
        while not told and clock.now_s() < 10.0:
            told += speaker.heard()
            clock.wait_until(clock.now_s() + 0.01, 0.01)
        assert told[0].kind == "ahead" or told[0].kind == "beat"
        assert speaker.fault is None
    finally:
        speaker.stop()
        speaker.stop()


def test_a_mixer_whose_output_goes_away_is_opened_again_and_its_beat_goes_on(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("SDL_AUDIODRIVER", "dummy")
    clock, speaker = WallClock(), PygameSpeaker()
    speaker.start(clock)
    try:
        speaker.set_beat(300)
        first = speaker._opened
        assert first is not None
        assert first.device.there is not None, "SDL cannot be asked: see sdl_status"
        assert first.device.there()
        there = [False]
        gone = replace(first, device=replace(first.device, there=lambda: there[0]))
        speaker._opened = gone
        told: list[Heard] = list(speaker.heard())
        assert "went away" in str(speaker.notice)
        while "back after" not in str(speaker.notice) and clock.now_s() < 20.0:
            clock.wait_until(clock.now_s() + 0.01, 0.01)
            told += speaker.heard()
        assert "in its place" in str(speaker.notice)
        assert speaker.counts().times_lost == 1
        assert [e.number for e in told] == list(range(len(told)))
        assert not first.device.thread.is_alive()
    finally:
        speaker.stop()


def test_sdl_tells_that_an_output_was_closed(monkeypatch: pytest.MonkeyPatch) -> None:
    import pygame

    monkeypatch.setenv("SDL_AUDIODRIVER", "dummy")
    pygame.mixer.init(FS, 32, 2, allowedchanges=0)
    try:
        there = output_status(pygame)
        assert there is not None
        assert there()
    finally:
        pygame.mixer.quit()
    assert not there()
    assert output_status(pygame) is None  # none is open


def test_pygame_quit_by_others_leaves_the_beat_and_a_notice(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    import pygame

    monkeypatch.setenv("SDL_AUDIODRIVER", "dummy")
    clock, speaker = WallClock(), PygameSpeaker()
    speaker.start(clock)
    try:
        speaker.set_beat(180)
        pygame.quit()
        speaker.heard()
        assert "mixer has ended" in str(speaker.notice)
        assert speaker.cue(Cue("praise", clock.now_s())) is not None
    finally:
        speaker.stop()


def test_no_output_is_a_devices_trouble(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SDL_AUDIODRIVER", "no-such-driver")
    with pytest.raises(DeviceTrouble, match="opens no sound output"):
        PygameSpeaker().start(WallClock())


def test_a_missing_pygame_is_a_devices_trouble(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pygame", None)
    with pytest.raises(DeviceTrouble, match="no mixer"):
        PygameSpeaker().start(WallClock())
