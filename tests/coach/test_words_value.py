from __future__ import annotations

from station.coach.words import Words

WORDS = Words("en", {"a": "{n} of {m}"}, {"belt": "belt"}, {"nobody": "Nobody in view"})


def test_words_are_filled_in():
    assert WORDS.sentence("a", n="3", m="4") == "3 of 4"
    assert WORDS.sentence("nobody") == "Nobody in view"
    assert WORDS.label("belt") == "belt"


def test_a_missing_word_or_field_shows_as_itself():
    assert WORDS.sentence("look_up") == "look up"
    assert WORDS.label("look_up") == "look up"
    assert WORDS.sentence("a", n="3") == "3 of {m}"
