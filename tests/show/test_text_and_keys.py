from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from station.settings.resources import names
from station.settings.words import read_words
from station.show.drill import clock_text
from station.show.keys import keys_card
from station.show.text import TextBook
from station.show.wording import LABEL_KEYS


@pytest.fixture(scope="module")
def book() -> TextBook:
    return TextBook()


@pytest.mark.parametrize("cap", [17, 29, 70])
def test_size_is_the_height_of_a_capital(book: TextBook, cap: int) -> None:
    screen = np.zeros((140, 400, 3), np.uint8)
    book.draw(screen, "H", (20, 120), cap)
    rows = np.nonzero(screen.any(axis=(1, 2)))[0]
    assert np.ptp(rows) + 1 == pytest.approx(cap, abs=1.5)
    assert rows.max() == pytest.approx(119, abs=1)


def test_umlauts_are_in_the_font(book: TextBook) -> None:
    def painted(text: str) -> np.ndarray:
        screen = np.zeros((60, 60, 3), np.uint8)
        book.draw(screen, text, (5, 50), 30)
        return screen

    missing = painted("\u2603")  # not in the font: an empty box
    for letter in "\u00e4\u00f6\u00fc\u00df\u00e9\u2026":
        assert painted(letter).any()
        assert not np.array_equal(painted(letter), missing)


def test_text_beyond_the_edge_is_clipped(book: TextBook) -> None:
    screen = np.zeros((40, 60, 3), np.uint8)
    book.draw(screen, "long text", (-30, 10), 30)
    book.draw(screen, "long text", (50, 70), 30, halo=3)
    assert screen[:, 0].any()


def test_wrapping_keeps_every_word_and_the_room(book: TextBook) -> None:
    text = "Feet out of the picture - tilt the camera down"
    lines = book.wrap(text, 35, 420)
    assert " ".join(lines) == text
    assert all(book.width(line, 35) <= 420 for line in lines)
    assert not any(line.startswith("-") for line in lines)


def test_shortened_text_fits(book: TextBook) -> None:
    short = book.shorten("A very long name of a drill", 29, 200)
    assert book.width(short, 29) <= 200
    assert short.endswith("\u2026")
    assert book.shorten("Easy", 29, 200) == "Easy"


@pytest.mark.parametrize(
    ("seconds", "text"),
    [(0.0, "0:00"), (0.2, "0:01"), (59.6, "1:00"), (60.0, "1:00"), (84.01, "1:25"), (-3.0, "0:00")],
)
def test_time_left(seconds: float, text: str) -> None:
    assert clock_text(seconds) == text


def test_the_shipped_words_hold_every_label() -> None:
    assert set(LABEL_KEYS) <= set(read_words("en").labels)


@pytest.mark.parametrize("language", names("config/words"))
def test_the_font_has_every_letter_of_the_shipped_words(book: TextBook, language: str) -> None:
    words = read_words(language)
    texts = [*words.labels.values(), *words.sentences.values(), *words.troubles.values()]
    letters = sorted(set("".join(texts)) - {" "})
    missing = [x for x in letters if book._font.get_metrics(x, size=20) == [None]]
    assert book._font.get_metrics("\u2603", size=20) == [None]
    assert missing == []


def test_the_keys_card_fits_a_small_screen(make: SimpleNamespace) -> None:
    card = keys_card(640, 360, make.words)
    assert card.shape[0] <= 360
    assert card.shape[1] <= 640
