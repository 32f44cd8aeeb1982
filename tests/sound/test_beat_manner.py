"""One beat per step or per stride, feet told apart: as every speaker renders and tells it."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.clock import StreamClock
from station.sound.mixer import Mixer, Placed
from station.sound.speaker_silent import StreamSpeaker
from station.sound.tones import Tones, Voicing, make_tones
from station.values import BeatFeet, BeatManner, Heard

FS = 48_000
TONES: dict[BeatFeet, Tones] = {
    "alike": make_tones(),
    "pitch": make_tones(voicing=Voicing(feet="pitch")),
    "pan": make_tones(voicing=Voicing(feet="pan")),
}


def render(mixer: Mixer, n: int, block: int = 480) -> np.ndarray:
    out = np.full((n, 2), np.nan, dtype=np.float32)
    for i in range(0, n, block):
        mixer.render(out[i : i + block])
    return out


@pytest.mark.parametrize("feet", ["alike", "pitch", "pan"])
def test_feet_alternate_from_the_one_that_was_named(feet: BeatFeet) -> None:
    tones, mixer = TONES[feet], Mixer(TONES[feet])
    mixer.set_beat(180, BeatManner(even_foot="right"))
    out = render(mixer, 4 * 16_000)
    for k, side in enumerate(["right", "left", "right", "left"]):
        part = out[k * 16_000 : k * 16_000 + len(tones.beat)]
        np.testing.assert_array_equal(part, tones.beats[side])
    assert [p.side for p in mixer.placed()] == ["right", "left", "right", "left"]
    same = np.array_equal(tones.beats["left"], tones.beats["right"])
    assert same == (feet == "alike")


def test_until_the_feet_are_known_beats_sound_alike() -> None:
    tones, mixer = TONES["pan"], Mixer(TONES["pan"])
    mixer.set_beat(180)
    out = render(mixer, 32_000)
    for at in (0, 16_000):
        np.testing.assert_array_equal(out[at : at + len(tones.beat)], tones.beat)
    assert [p.side for p in mixer.placed()] == [None, None]


def test_naming_the_feet_moves_no_beat() -> None:
    named, plain = Mixer(TONES["pan"]), Mixer(TONES["pan"])
    for mixer in (named, plain):
        mixer.set_beat(173)
    for i in range(40):
        named.set_beat(173, BeatManner(even_foot="left" if i % 3 else "right"))
        named.skip(7_001)
        plain.skip(7_001)
    assert [p.sample for p in named.placed()] == [p.sample for p in plain.placed()]


def test_one_beat_per_stride_is_every_second_place() -> None:
    tones, mixer = TONES["alike"], Mixer(TONES["alike"])
    mixer.set_beat(180, BeatManner("stride", even_foot="left"))
    out = render(mixer, 4 * 16_000)
    expected = np.zeros_like(out)
    for at in (0, 32_000):
        expected[at : at + len(tones.beat)] = tones.beat
    np.testing.assert_array_equal(out, expected)
    assert mixer.placed() == [
        Placed("beat", 0, "left", 16_000.0, 0, 2),
        Placed("offbeat", 16_000, "right", 16_000.0, 1, 2),
        Placed("beat", 32_000, "left", 16_000.0, 2, 2),
        Placed("offbeat", 48_000, "right", 16_000.0, 3, 2),
    ]


@settings(derandomize=True, max_examples=40, deadline=None, database=None)
@given(
    changes=st.lists(
        st.tuples(
            st.integers(480, 90_000),
            st.none() | st.sampled_from([120.0, 165.0, 180.0]),
            st.sampled_from(["step", "stride"]),
            st.sampled_from([0.0, 0.02]),
        ),
        min_size=1,
        max_size=10,
    )
)
def test_stride_and_step_share_one_row_of_places(changes: list) -> None:
    """Changing over adds and loses no place, and whatever starts begins with a beat."""
    every, steps = Mixer(TONES["alike"]), Mixer(TONES["alike"])
    rate_before, was = None, "step"
    for n, rate, kind, ramp in changes:
        every.set_beat(rate, BeatManner(kind, ramp))
        steps.set_beat(rate, BeatManner("step", ramp))
        every.skip(n)
        steps.skip(n)
        places, all_beats = every.placed(), steps.placed()
        assert [p.sample for p in places] == [p.sample for p in all_beats]
        assert [p.number for p in places] == [p.number for p in all_beats]
        assert {p.kind for p in all_beats} <= {"beat"}
        if places and (rate_before is None or kind != was):
            assert places[0].kind == "beat"
        if kind == "stride":
            kinds = [p.kind for p in places]
            assert all(a != b for a, b in pairwise(kinds))
        if places or kind == was:
            rate_before, was = rate, kind
        else:
            rate_before, was = None, kind  # the first beat of the new kind is still to come


def test_a_speaker_tells_places_in_time() -> None:
    clock = StreamClock()
    speaker = StreamSpeaker(latency_s=0.0)
    speaker.start(clock)
    speaker.set_beat(150, BeatManner("stride", even_foot="right"))
    clock.move_to(1.3)
    assert speaker.heard() == tuple(
        Heard(kind, pytest.approx(0.4 * k), side, pytest.approx(0.4), k, 2)
        for k, (kind, side) in enumerate(
            [("beat", "right"), ("offbeat", "left"), ("beat", "right"), ("offbeat", "left")]
        )
    )
