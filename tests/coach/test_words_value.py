from __future__ import annotations

import pickle

from station.coach.words import Words
from station.errors import DeviceTrouble, Worded, text_of

WORDS = Words("en", {"a": "{n} of {m}"}, {"belt": "belt"}, {"nobody": "Nobody in view"})


def test_words_are_filled_in():
    assert WORDS.sentence("a", n="3", m="4") == "3 of 4"
    assert WORDS.sentence("nobody") == "Nobody in view"
    assert WORDS.label("belt") == "belt"


def test_a_missing_word_or_field_shows_as_itself():
    assert WORDS.sentence("look_up") == "look up"
    assert WORDS.label("look_up") == "look up"
    assert WORDS.sentence("a", n="3") == "3 of {m}"


# --- texts that carry their words -----------------------------------------------------------------


def test_a_worded_text_is_told_in_each_language_also_within_another() -> None:
    words = Words("de", {}, {}, {"gone": "{name} fehlt. {listing}", "none": "Keine da."})
    listing = Worded("None is there.", "none")
    text = Worded(f"cam is gone. {listing}", "gone", name="cam", listing=listing)
    assert text == "cam is gone. None is there."
    assert words.of(text) == "cam fehlt. Keine da."
    assert words.of("plain") == "plain"
    again = pickle.loads(pickle.dumps(text))
    assert (again, again.key, again.values) == (text, text.key, text.values)
    assert text_of(DeviceTrouble(text)) is text
    assert text_of(DeviceTrouble("plain")) == "plain"
    assert text_of(DeviceTrouble()) == ""
