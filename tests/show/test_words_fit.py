"""Every sentence and label fits its place on the screen, in every language and text size."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any, get_args

import pytest

from station.coach.scene import FeltStatus, HopStatus, Rhythm, Sentence, State
from station.coach.words import Words
from station.settings import read_words
from station.settings.resources import names
from station.show.layout import Layout
from station.show.legibility import text_scale
from station.show.painter import Painter
from station.show.wording import RUNNING_KEYS

LANGUAGES = names("config/words")
SIZES = [(1280, 720, 1.0), (1280, 720, 1.3), (720, 1280, 1.0)]
LONGEST = {"within": "10", "judged": "10"}


def sentence(words: Words, key: str) -> Sentence:
    return Sentence(key, "calm", tuple(LONGEST.items()))


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("language", LANGUAGES)
def test_each_sentence_fits_the_floor(language: str, size: tuple[int, int, float]) -> None:
    """While running: none wider than its room, none smaller than a runner reads."""
    words = read_words(language)
    painter = Painter(size[0], size[1], words, size[2])
    lay = painter._layout
    assert lay.sentence_rows <= 2, "the longest sentence takes two rows"
    room = lay.sentence().w - round(3.6 * round(lay.say * 0.5))
    amiss = {}
    for key in RUNNING_KEYS:
        lines, cap = painter._saying.lines(sentence(words, key), lay.say, room, lay.sentence_rows)
        wide = max(painter._saying._text.width(line, cap) for line in lines)
        if len(lines) > lay.sentence_rows or wide > room or cap < lay.read:
            amiss[key] = (lines, cap)
    assert amiss == {}


def test_every_sentence_while_running_is_known() -> None:
    """What the policy may say is in the list that the floor's rows are made for."""
    said = {key for key, text in read_words("en").sentences.items() if not key.startswith("key_")}
    elsewhere = {
        "rest_now", "get_ready", "start_belt", "paused", "session_done", "felt_question",
        "felt_beside",
        "belt_by_itself", "belt_still", "belt_confirm",
    }  # fmt: skip
    assert said - elsewhere <= set(RUNNING_KEYS)


@pytest.mark.parametrize(
    ("language", "size"), [("en", SIZES[0]), ("de", SIZES[1]), ("de", SIZES[2]), ("en", SIZES[2])]
)
def test_every_text_for_the_runner_is_large_enough(
    drawn: list[Any], make: SimpleNamespace, language: str,
    size: tuple[int, int, float],
) -> None:  # fmt: skip
    """In every state; the smallest is READ_CAP, which the screen's size has set."""
    words = read_words(language)
    painter = Painter(size[0], size[1], words, size[2])
    drill = make.scene().drill
    scenes = [make.scene(state=state) for state in get_args(State)]
    scenes += [
        make.scene(sentence=Sentence(key, "correction", tuple(LONGEST.items())))
        for key in RUNNING_KEYS
    ]
    scenes += [
        make.scene(state="trouble", sentence=Sentence(key, "warning"))
        for key, text in words.troubles.items()
        if "{" not in text  # those are notices for the coach
    ]
    scenes += [
        make.scene(drill=replace(drill, **changes))
        for changes in (
            {"belt_waits": True, "belt_measured": "13.4 km/h", "belt_speed": "10:30 min/mile"},
            {
                "belt_waits": True,
                "belt_unchanged": True,
                "belt_measured": "10:30 min/mile",
                "belt_speed": "10:30 min/mile",
            },
            {"belt_changes": True, "belt_speed": "12.5 km/h"},
            {"hop": HopStatus("right", 11, 10, 12)},
            {"seconds_left": None, "steps_left": 120, "belt_speed": "10:30 min/mile"},
        )
    ]
    scenes += [make.scene(state="felt", felt=f) for f in (FeltStatus(), FeltStatus(10, None, 6))]
    scenes += [
        make.scene(rhythm=Rhythm(rate, 174.0, 0.1, 0.345, offset_s, 4))
        for rate in (160.0, 174.0, 190.0, None)
        for offset_s in (-0.07, 0.0, 0.07)
    ]
    least = painter._layout.read
    drawn.clear()
    for scene in scenes:
        painter.paint(replace(scene, frame=None))
    assert len({one.text for one in drawn}) > 120  # what stands is not drawn again
    assert {one.text for one in drawn if one.cap < least} == set()


@pytest.mark.parametrize("distance_m", [2.0, 2.5])
@pytest.mark.parametrize("diagonal_m", [0.7, 0.81, 1.0, 1.4])
@pytest.mark.parametrize("size", [(1280, 720), (1920, 1080), (720, 1280), (3840, 2160)])
def test_the_smallest_text_subtends_22_minutes_of_arc(
    size: tuple[int, int], diagonal_m: float, distance_m: float
) -> None:
    """The height of a capital letter on the glass, from the bay's screen and distance."""
    scale = text_scale(diagonal_m, distance_m, *size)
    cap_px = Layout(*size, scale).read
    cap_m = cap_px * diagonal_m / math.hypot(*size)
    arcmin = math.degrees(2.0 * math.atan(cap_m / (2.0 * distance_m))) * 60.0
    assert arcmin >= 22.0
