"""The staff call: loud, alone, whatever the volume, until a person ends it."""

import numpy as np
import pytest

from station.clock import StreamClock
from station.ports import StaffCaller
from station.sound.mixer import Mixer
from station.sound.speaker_silent import StreamSpeaker
from station.sound.tones import HEADROOM_DB, make_tones

FS = 48_000


def render(mixer: Mixer, n: int, block: int = 1_000) -> np.ndarray:
    out = np.empty((n, 2), np.float32)
    for at in range(0, n, block):
        mixer.render(out[at : at + block])
    return out


@pytest.mark.parametrize("volume", [0.0, 0.1, 1.0])
def test_it_is_as_loud_as_the_device_can_give_whatever_the_volume(volume: float) -> None:
    mixer = Mixer(make_tones(volume=volume))
    mixer.set_beat(180.0)
    mixer.call_staff(True)
    out = render(mixer, 4 * FS)
    peak = float(np.abs(out).max())
    assert peak == pytest.approx(10 ** (-HEADROOM_DB / 20), abs=1e-3)
    np.testing.assert_array_equal(out[: 2 * FS], out[2 * FS :])  # over and over


def test_beats_keep_their_places_under_it() -> None:
    called, quiet = Mixer(make_tones()), Mixer(make_tones())
    for mixer in (called, quiet):
        mixer.set_beat(173.0)
        render(mixer, FS)
    called.call_staff(True)
    render(called, 3 * FS)
    render(quiet, 3 * FS)
    called.call_staff(False)
    np.testing.assert_array_equal(render(called, FS)[FS // 2 :], render(quiet, FS)[FS // 2 :])
    assert called.placed() == quiet.placed()


def test_a_cue_is_not_heard_beside_it() -> None:
    one, two = Mixer(make_tones()), Mixer(make_tones())
    for mixer in (one, two):
        mixer.call_staff(True)
    two.cue("ahead", "left")
    np.testing.assert_array_equal(render(one, FS), render(two, FS))


def test_asking_again_does_not_begin_it_anew() -> None:
    one, two = Mixer(make_tones()), Mixer(make_tones())
    one.call_staff(True)
    two.call_staff(True)
    render(one, 700)
    render(two, 700)
    two.call_staff(True)
    np.testing.assert_array_equal(render(one, FS), render(two, FS))


def test_most_of_it_lies_where_a_danger_signal_is_heard() -> None:
    # ISO 7731, from memory: 500 to 2500 Hz, some energy up to 1500 Hz.
    call = make_tones().staff_call[:, 0].astype(np.float64)
    power, hz = np.abs(np.fft.rfft(call)) ** 2, np.fft.rfftfreq(call.size, 1 / FS)
    assert power[(hz >= 500) & (hz <= 2500)].sum() > 0.95 * power.sum()
    assert power[(hz >= 500) & (hz <= 1500)].sum() > 0.5 * power.sum()


def test_speakers_can_call() -> None:
    speaker = StreamSpeaker()
    speaker.start(StreamClock())
    assert isinstance(speaker, StaffCaller)
    speaker.call_staff(True)
    speaker.call_staff(False)
    speaker.stop()
