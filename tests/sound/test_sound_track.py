"""Where each sample of a stream lands in the file, told by single marks in the read file."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from scipy.io import wavfile

from station.clock import StreamClock
from station.sound.speaker_silent import StreamSpeaker
from station.sound.tap import Tap
from station.sound.track import AHEAD_S, BEFORE_S, SETTLE_S, SoundTrack

FS = 48_000
BLOCK = 480
MARK = 0.5


def read(path: Path) -> np.ndarray:
    return wavfile.read(path)[1][:, 0]


def marks(path: Path) -> list[int]:
    return np.flatnonzero(read(path)).tolist()


def none(start: int) -> bool:
    return False


def play(
    track: SoundTrack, first: int, end: int, marked: set[int], lost: Callable[[int], bool] = none
) -> None:
    """Put the stream's blocks from `first` to `end` (samples), with a mark at some samples."""
    for start in range(first, end, BLOCK):
        block = np.zeros((BLOCK, 2), np.float32)
        for at in marked:
            if start <= at < start + BLOCK:
                block[at - start] = MARK
        if not lost(start):
            track.put(start, block)


@pytest.mark.parametrize("first_s", [0.0, 0.25, 0.7123456, 1.999])
def test_sample_0_is_the_first_pictures_instant(tmp_path: Path, first_s: float) -> None:
    """The stream begins at 0.2 s, before or after the first picture."""
    track = SoundTrack(tmp_path / "a.wav", lambda sample: 0.2 + sample / FS)
    marked = {100_000, 100_001, 150_123}
    play(track, 0, 96_000, marked)
    track.follow(first_s, first_s + 1 / 30)
    play(track, 96_000, 240_000, marked)
    track.follow(first_s, first_s + 4.0)
    track.finish()
    track.finish()
    at = marks(tmp_path / "a.wav")
    wanted = [(0.2 + sample / FS - first_s) * FS for sample in sorted(marked)]
    np.testing.assert_allclose(at, wanted, atol=0.5 + 1e-6)
    assert len(read(tmp_path / "a.wav")) == 4 * FS


def test_it_ends_with_the_last_picture_padded_or_trimmed(tmp_path: Path) -> None:
    for end_s, name in ((1.01, "trimmed.wav"), (7.0, "padded.wav")):
        track = SoundTrack(tmp_path / name, lambda sample: sample / FS)
        track.follow(0.0, end_s)
        play(track, 0, 2 * FS, {1000, 60_000})
        track.finish()
        assert len(read(tmp_path / name)) == round(end_s * FS)
    assert marks(tmp_path / "trimmed.wav") == [1000]
    assert marks(tmp_path / "padded.wav") == [1000, 60_000]


def test_hours_take_no_more_memory_than_seconds(tmp_path: Path) -> None:
    """Two hours in blocks of a second; the file itself is not kept."""
    track = SoundTrack(Path("/dev/null"), lambda sample: sample / FS)
    most = 0
    block = np.zeros((FS, 2), np.float32)
    for second in range(7200):
        track.put(second * FS, block)
        most = max(most, track.kept)
        track.follow(0.0, second + 0.5)
    assert most <= (SETTLE_S + 3.0) * FS
    assert track.written > 7195 * FS
    track.finish()
    assert track.kept == 0


def test_before_the_first_picture_only_the_last_second_is_kept(tmp_path: Path) -> None:
    track = SoundTrack(tmp_path / "a.wav", lambda sample: sample / FS)
    play(track, 0, 60 * FS, set())
    assert track.kept <= BEFORE_S * FS + BLOCK
    assert not (tmp_path / "a.wav").exists()
    track.finish()
    assert not (tmp_path / "a.wav").exists()


def test_where_pictures_stop_coming_memory_is_bound_too(tmp_path: Path) -> None:
    track = SoundTrack(tmp_path / "a.wav", lambda sample: sample / FS)
    track.follow(0.0, 0.5)
    play(track, 0, 60 * FS, {59 * FS})
    assert track.kept <= (AHEAD_S + SETTLE_S) * FS + BLOCK
    track.follow(0.0, 60.0)  # one comes again
    track.finish()
    assert marks(tmp_path / "a.wav") == [59 * FS]
    assert len(read(tmp_path / "a.wav")) == 60 * FS


@pytest.mark.parametrize("ppm", [100, -400])
def test_a_devices_drift_is_taken_out_in_silence(tmp_path: Path, ppm: int) -> None:
    """Ten minutes: without it the sound would be up to 240 ms off at the end."""
    rate = 1.0 + ppm * 1e-6
    track = SoundTrack(tmp_path / "a.wav", lambda sample: sample * rate / FS)
    marked = np.arange(1000, 600 * FS, 16_000)
    track.follow(0.0, 0.1)
    silent = np.zeros((BLOCK, 2), np.float32)
    for start in range(0, 600 * FS, BLOCK):
        block, hit = silent, -(-(start - 1000) // 16_000) * 16_000 + 1000 - start
        if 0 <= hit < BLOCK:
            block = silent.copy()
            block[hit] = MARK
        track.put(start, block)
        track.follow(0.0, start / FS)
    track.follow(0.0, 600.0)
    track.finish()
    at = np.array(marks(tmp_path / "a.wav"))
    wanted = marked[: len(at)] * rate
    assert len(at) >= len(marked) - 2
    assert np.abs(at - wanted).max() <= 0.001 * FS
    assert track.jumps == 0


def test_lost_blocks_leave_a_gap_of_their_length(tmp_path: Path) -> None:
    track = SoundTrack(tmp_path / "a.wav", lambda sample: sample / FS)
    track.follow(0.0, 3.0)
    play(track, 0, 3 * FS, {1000, 50_000, 100_000}, lost=lambda start: 48_000 <= start < 72_000)
    track.finish()
    assert marks(tmp_path / "a.wav") == [1000, 100_000]


def test_a_clock_that_is_learned_late_does_not_spoil_the_beginning(tmp_path: Path) -> None:
    """The session's time begins anew as the threads start; the device's clock learns it later."""
    off_s = [0.8]
    track = SoundTrack(tmp_path / "a.wav", lambda sample: sample / FS + off_s[0])
    track.follow(0.0, 1 / 30)
    play(track, 0, 9600, {5000})
    track.follow(0.0, 0.2)
    off_s[0] = 0.0
    play(track, 9600, 2 * FS, {60_000})
    track.follow(0.0, 2.0)
    track.finish()
    assert marks(tmp_path / "a.wav") == [5000, 60_000]


def test_a_jump_of_the_devices_clock_is_followed(tmp_path: Path) -> None:
    """The device stalled for 0.7 s at sample 96000: what follows sounded that much later."""
    track = SoundTrack(tmp_path / "a.wav", lambda sample: sample / FS + 0.7 * (sample >= 96_000))
    track.follow(0.0, 4.0)
    play(track, 0, 4 * FS, {90_000, 100_000})
    track.finish()
    assert marks(tmp_path / "a.wav") == [90_000, 100_000 + 33_600]
    assert track.jumps == 1


@pytest.mark.parametrize("place", ["/dev/full", "no such folder/a.wav"])
def test_what_cannot_be_written_is_a_fault_kept_and_no_exception(place: str) -> None:
    track = SoundTrack(Path(place), lambda sample: sample / FS)
    for second in range(5):
        track.follow(0.0, second + 0.9)
        play(track, second * FS, (second + 1) * FS, {second * FS})
    assert track.fault is not None
    assert track.kept == 0
    track.finish()


def test_a_stream_speakers_sound_is_the_same_to_the_sample(tmp_path: Path) -> None:
    """The pictures begin at 0.5 s and end at 4.1 s; the file is that part of the whole sound."""
    clock, speaker, whole = StreamClock(), StreamSpeaker(), StreamSpeaker(record=True)
    for one in (speaker, whole):
        one.start(clock)
        one.set_beat(173.0)
    track = SoundTrack(tmp_path / "a.wav", speaker.sounds_at)
    speaker.tap(track.put)
    whole_start = whole.recorded().shape[0]  # rendered by the first `set_beat`
    for i in range(37):
        clock.move_to(0.1 * i)
        speaker.heard()
        whole.heard()
        if i >= 5:
            track.follow(0.5, 0.1 * i + 0.5)
    speaker.play_on(4.1)
    track.follow(0.5, 4.1)
    track.finish()
    clock.move_to(5.0)
    whole.heard()
    wanted = whole.recorded()[24_000 : 24_000 + round(3.6 * FS), 0]
    assert whole_start == 1920
    assert np.abs(wanted).max() > 0.3
    np.testing.assert_allclose(read(tmp_path / "a.wav") / 32767.0, wanted, atol=1 / 32767.0)


def test_the_tap_hands_on_copies_in_order() -> None:
    tap, got = Tap(), []
    block = np.zeros((4, 2), np.float32)
    for start in range(0, 12, 4):
        block[:] = start
        tap.put(start, block)
    tap.drain(lambda start, samples: got.append((start, float(samples[0, 0]))))
    assert got == [(0, 0.0), (4, 4.0), (8, 8.0)]
    tap.drain(lambda start, samples: pytest.fail("it was empty"))


def test_the_tap_is_bounded_and_counts_what_it_loses() -> None:
    tap, got = Tap(most_waiting=1000), []
    for start in range(0, 3000, 300):
        tap.put(start, np.zeros((300, 2), np.float32))
    assert tap.lost == 7 * 300
    tap.drain(lambda start, samples: got.append(start))
    assert got == [0, 300, 600]
    tap.put(3000, np.zeros((300, 2), np.float32))
    tap.drain(lambda start, samples: got.append(start))
    assert got[-1] == 3000
