import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from station.errors import BadInput
from station.sound.mixer import Mixer, Placed
from station.sound.tones import BEAT_PEAK, CUE_PEAK, make_tones

TONES = make_tones()


def render(mixer: Mixer, n: int, block: int = 480) -> np.ndarray:
    out = np.full((n, 2), np.nan, dtype=np.float32)  # NaN: whatever is not written shows
    for i in range(0, n, block):
        mixer.render(out[i : i + block])
    return out


def test_silence_is_exactly_silent() -> None:
    assert not render(Mixer(TONES), 4_800).any()


def test_beats_lie_at_their_samples() -> None:
    mixer = Mixer(TONES)
    mixer.set_beat(170)
    out = render(mixer, 100_000, 333)
    expected = np.zeros_like(out)
    for k in range(6):
        at = round(k * 60 * 48_000 / 170)
        expected[at : at + len(TONES.beat)] += TONES.beat[: 100_000 - at]
    np.testing.assert_array_equal(out, expected)
    placed = mixer.placed()
    assert [p.sample for p in placed] == [round(k * 60 * 48_000 / 170) for k in range(6)]
    assert placed[0].period == pytest.approx(60 * 48_000 / 170)
    assert mixer.placed() == []


@given(st.lists(st.integers(1, 20_000), min_size=1, max_size=8))
@settings(max_examples=25, deadline=None)
def test_blocks_of_any_size_give_the_same_sound(sizes: list[int]) -> None:
    def play(cuts: list[int]) -> np.ndarray:
        mixer = Mixer(TONES)
        mixer.set_beat(187)
        mixer.cue("ahead", "left")
        out = np.empty((60_000, 2), dtype=np.float32)
        at = i = 0
        while at < len(out):
            n = min(cuts[i % len(cuts)], len(out) - at)
            mixer.render(out[at : at + n])
            at, i = at + n, i + 1
        return out

    np.testing.assert_array_equal(play(sizes), play([60_000]))


def test_a_cue_begins_at_the_sample_it_was_promised() -> None:
    mixer = Mixer(TONES)
    render(mixer, 4_800)
    promised = mixer.cue("praise", None)
    assert promised == 4_800
    tone = TONES.cues["praise", None]
    np.testing.assert_array_equal(render(mixer, len(tone)), tone)
    assert mixer.placed() == [Placed("praise", promised, None)]


def test_the_newest_of_waiting_cues_wins() -> None:
    mixer = Mixer(TONES)
    mixer.cue("ahead", "left")
    mixer.cue("ahead", "right")
    np.testing.assert_array_equal(render(mixer, 480), TONES.cues["ahead", "right"][:480])
    assert [p.side for p in mixer.placed()] == ["right"]
    assert mixer.cues_replaced == 1


def test_a_newer_cue_fades_the_old_one_out_without_a_click() -> None:
    mixer = Mixer(TONES)
    mixer.cue("paused", None)
    first = render(mixer, 4_800)
    mixer.cue("ahead", None)
    second = render(mixer, 9_600)
    out = np.concatenate([first, second])
    steepest = max(np.abs(np.diff(TONES.cues[k, None][:, 0])).max() for k in ("paused", "ahead"))
    assert np.abs(np.diff(out[:, 0])).max() < 1.5 * steepest
    # After the fade only the new one sounds.
    np.testing.assert_array_equal(second[300:8_000], TONES.cues["ahead", None][300:8_000])


@given(st.lists(st.sampled_from(sorted(TONES.cues, key=str)), min_size=1, max_size=30))
@settings(max_examples=30, deadline=None)
def test_beat_and_cues_never_clip_at_full_volume(cues: list) -> None:
    mixer = Mixer(TONES)
    mixer.set_beat(300)
    worst = 0.0
    for i, (kind, side) in enumerate(cues):
        mixer.cue(kind, side)
        worst = max(worst, float(np.abs(render(mixer, 480 * (1 + i * 7 % 11))).max()))
    assert worst <= BEAT_PEAK + CUE_PEAK + 1e-6 < 1.0


def test_skipping_places_the_same_as_rendering() -> None:
    rendered, skipped = Mixer(TONES), Mixer(TONES)
    for mixer in (rendered, skipped):
        mixer.set_beat(165)
        mixer.cue("ahead", "left")
    render(rendered, 96_000)
    skipped.skip(96_000)
    assert rendered.placed() == skipped.placed()
    assert rendered.cursor == skipped.cursor == 96_000


def test_a_stopped_beat_lets_its_tick_ring_out() -> None:
    mixer = Mixer(TONES)
    mixer.set_beat(180)
    first = render(mixer, 480)
    mixer.set_beat(None)
    rest = render(mixer, 48_000)
    heard = np.concatenate([first, rest])
    np.testing.assert_array_equal(heard[: len(TONES.beat)], TONES.beat)
    assert not heard[len(TONES.beat) :].any()


def test_unfetched_events_are_bounded_and_counted() -> None:
    mixer = Mixer(TONES)
    mixer.set_beat(300)
    mixer.skip(48_000 * 60 * 10)  # 3000 beats
    assert len(mixer.placed()) == 2048
    assert mixer.placed_lost == 3000 - 2048


def test_an_impossible_rate_is_refused_where_it_is_asked() -> None:
    with pytest.raises(BadInput):
        Mixer(TONES).set_beat(1000)
