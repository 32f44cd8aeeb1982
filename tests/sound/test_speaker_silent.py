import numpy as np
import pytest

from station.clock import StreamClock
from station.errors import StationError
from station.sound.speaker_silent import LATENCY_S, SilentSpeaker, StreamSpeaker
from station.sound.tones import make_tones
from station.values import Cue


def test_beats_are_exact_on_stream_time_and_told_ahead() -> None:
    clock, speaker = StreamClock(), StreamSpeaker()
    speaker.start(clock)
    speaker.set_beat(172)
    told = []
    for i in range(600):
        clock.move_to(i / 60)
        told += speaker.heard()
        assert told[-1].t_s <= clock.now_s() + LATENCY_S if told else True
    # The first beat sounds one latency after it was asked for; then every 60 / 172 s.
    expected_s = LATENCY_S + np.arange(len(told)) * 60 / 172
    np.testing.assert_allclose([e.t_s for e in told], expected_s, atol=0.5 / 48_000 + 1e-9)
    assert len(told) == int((599 / 60) / (60 / 172)) + 1
    assert all(e.period_s == pytest.approx(60 / 172) for e in told)


def test_the_size_of_a_frame_does_not_move_a_beat() -> None:
    def run(fps: float) -> list[float]:
        clock, speaker = StreamClock(), StreamSpeaker()
        speaker.start(clock)
        speaker.set_beat(183)
        told = []
        for i in range(int(5 * fps) + 1):
            clock.move_to(i / fps)
            told += [event.t_s for event in speaker.heard()]
        return told

    assert run(60.0) == run(24.0) == run(1.0)


@pytest.mark.parametrize("latency_s", [0.0, 0.04, 0.12])
def test_a_cue_sounds_one_latency_after_it_was_asked_for(latency_s: float) -> None:
    clock, speaker = StreamClock(), StreamSpeaker(latency_s=latency_s)
    clock.move_to(5.0)
    speaker.start(clock)
    for asked_s in (5.0, 5.1, 7.123456, 3605.7):
        clock.move_to(asked_s)
        onset_s = speaker.cue(Cue("ahead", asked_s, "right"))
        assert onset_s == pytest.approx(asked_s + latency_s, abs=1 / 48_000)
        clock.move_to(asked_s + 0.01)
        (event,) = speaker.heard()
        assert (event.kind, event.side, event.t_s) == ("ahead", "right", onset_s)


def test_a_stale_cue_is_dropped_and_counted() -> None:
    clock, speaker = StreamClock(), StreamSpeaker()
    speaker.start(clock)
    clock.move_to(10.0)
    assert speaker.cue(Cue("ahead", 9.6, "left")) is None
    assert speaker.cue(Cue("ahead", 9.8, "left")) is not None
    assert speaker.counts().cues_stale == 1


def test_what_it_would_play_can_be_kept() -> None:
    clock, speaker = StreamClock(), StreamSpeaker(record=True, latency_s=0.0)
    speaker.start(clock)
    speaker.set_beat(120)
    clock.move_to(2.6)
    events = speaker.heard()
    sound, tick = speaker.recorded(), make_tones().beat
    assert sound.shape == (round(2.6 * 48_000), 2)
    assert len(events) == 6
    for event in events:
        at = round(event.t_s * 48_000)
        np.testing.assert_array_equal(sound[at : at + len(tick)], tick)
    assert StreamSpeaker().recorded().shape == (0, 2)


def test_the_silent_speaker_keeps_the_beat_and_says_why() -> None:
    clock, speaker = StreamClock(), SilentSpeaker("Sound is off: no device.")
    speaker.start(clock)
    speaker.set_beat(180)
    clock.move_to(1.0)
    assert len(speaker.heard()) == 3
    clock.move_to(2.0)
    assert len(speaker.heard()) == 3
    assert (speaker.name, speaker.notice) == ("silent", "Sound is off: no device.")
    speaker.stop()
    speaker.stop()


def test_asking_before_the_start_is_a_fault_of_ours() -> None:
    with pytest.raises(StationError, match="not been started"):
        StreamSpeaker().set_beat(180)
