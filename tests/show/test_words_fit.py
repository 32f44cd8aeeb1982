"""Every sentence and label fits its place on the screen, in every language and text size."""

from __future__ import annotations

import pytest

from station.coach.scene import Sentence
from station.coach.words import Words
from station.settings import read_words
from station.settings.resources import names
from station.show.keys import SHOWN_KEYS
from station.show.layout import Layout
from station.show.legibility import READ_CAP
from station.show.saying import Saying
from station.show.text import TextBook

LANGUAGES = names("config/words")
SIZES = [(1280, 720, 1.0), (1280, 720, 1.3), (1920, 1080, 1.0)]
LONGEST = {"within": "10", "judged": "10"}


@pytest.fixture(scope="module")
def book() -> TextBook:
    return TextBook()


def saying(size: tuple[int, int, float], words: Words, book: TextBook) -> tuple[Layout, Saying]:
    lay = Layout(*size)
    return lay, Saying(lay, book, words)


def sentence(words: Words, key: str) -> Sentence:
    return Sentence(key, "calm", tuple(LONGEST.items()))


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("language", LANGUAGES)
def test_each_sentence_fits_beside_the_runner(
    book: TextBook, language: str, size: tuple[int, int, float]
) -> None:
    """Three lines at most, none wider than its room, none smaller than a runner reads."""
    words = read_words(language)
    lay, painter = saying(size, words, book)
    room = lay.top_middle().w - round(3.6 * lay.px(24)) - lay.px(8) - lay.px(14)
    amiss = {}
    for key in (*words.sentences, *words.troubles):
        if "{" in words.troubles.get(key, ""):
            continue  # a notice for the coach, not a sentence for the runner
        lines, cap = painter.lines(sentence(words, key), lay.say, room, 3)
        wide = max(book.width(line, cap) for line in lines)
        if len(lines) > 3 or wide > room or cap < READ_CAP * lay.unit:
            amiss[key] = (lines, cap)
    assert amiss == {}


@pytest.mark.parametrize("language", LANGUAGES)
def test_each_sentence_fits_a_card(book: TextBook, language: str) -> None:
    words = read_words(language)
    lay, painter = saying((1280, 720, 1.0), words, book)
    room = lay.card().w - lay.px(208) - lay.px(222)
    for key in ("rest_now", "get_ready", "paused", "session_done", *words.troubles):
        lines, cap = painter.lines(sentence(words, key), lay.cap(54), room, 3)
        assert len(lines) <= 3, key
        assert max(book.width(line, cap) for line in lines) <= room, key


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_labels_are_not_shrunk_beyond_reading(book: TextBook, language: str) -> None:
    """Rooms as the panels give them; a label that is wider is shrunk, but by a quarter at most."""
    words, lay = read_words(language), Layout(1280, 720)
    panel = lay.corner(False).w - 2 * lay.pad
    beside_rate = panel - round(lay.read * 1.75)
    rooms: dict[str, tuple[str, int, int]] = {
        "left_foot": (words.label("left_foot"), lay.read, lay.px(90)),
        "right_foot": (words.label("right_foot"), lay.read, lay.px(90)),
        "steps_per_minute": (words.label("steps_per_minute"), lay.read, panel),
        "target": (f"{words.label('target')} 180", lay.read, panel),
        "set_belt": (words.label("set_belt"), lay.cap(20), panel),
        "belt_stands": (words.label("belt_stands"), lay.read, panel),
    }
    for key in ("within", "ahead"):
        rooms[key] = (words.label(key).upper(), lay.say, lay.px(300) - 5 * lay.px(16))
    for key in ("faster", "slower", "on_target"):
        rooms[key] = (f"180  {words.label(key)}", lay.read, beside_rate)
    for key in ("early", "late", "on_the_beat"):
        rooms[key] = (words.label(key), lay.read, panel - 3 * lay.read)
    for _, key in SHOWN_KEYS:
        rooms[key] = (words.label(key), lay.cap(26), lay.px(900))
    shrunk = {
        key: fitted / cap
        for key, (text, cap, room) in rooms.items()
        if (fitted := book.fit(text, cap, room)) < 0.75 * cap
    }
    assert shrunk == {}
